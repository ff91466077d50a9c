"""A real Home Assistant with Chargehand on a bench, outside pytest; and one with as many plain sensors and no line."""

import logging
from collections.abc import AsyncIterator, Sequence
from contextlib import asynccontextmanager
from datetime import timedelta
from itertools import count
from pathlib import Path

from homeassistant import loader
from homeassistant.components.sensor import SensorDeviceClass, SensorEntity, SensorStateClass
from homeassistant.config_entries import ConfigEntryState
from homeassistant.core import HomeAssistant
from homeassistant.helpers.update_coordinator import CoordinatorEntity, DataUpdateCoordinator
from pytest_homeassistant_custom_component.common import (
    MockConfigEntry,
    MockEntityPlatform,
    async_test_home_assistant,
)

import custom_components  # noqa: F401 - the one in this repository, before the test tools can bring another
from custom_components.chargehand.coordinator import ChargehandCoordinator

_NEVER = 3600.0
"""Seconds: polls happen when the measurement asks for them."""


@asynccontextmanager
async def home(config: Path) -> AsyncIterator[HomeAssistant]:
    """A Home Assistant that finds Chargehand, with this configuration folder."""
    async with async_test_home_assistant(config_dir=str(config)) as hass:
        # The test tools hide all custom integrations at first.
        hass.data.pop(loader.DATA_CUSTOM_COMPONENTS)
        try:
            yield hass
        finally:
            await hass.async_stop(force=True)


async def add_inverters(
    hass: HomeAssistant, port: int, map_id: str, units: Sequence[int]
) -> list[ChargehandCoordinator]:
    """Add units of a bench. Return what polls them."""
    found: list[ChargehandCoordinator] = []
    for unit in units:
        entry = MockConfigEntry(
            domain="chargehand",
            title=f"Teasel {unit}",
            unique_id=f"unit-{unit}",
            data={"host": "127.0.0.1", "port": port, "framing": "tcp", "unit": unit, "register_map": map_id},
            options={"fast_seconds": _NEVER, "slow_seconds": _NEVER},
        )
        entry.add_to_hass(hass)
        await hass.config_entries.async_setup(entry.entry_id)
        await hass.async_block_till_done()
        if entry.state is not ConfigEntryState.LOADED:
            raise RuntimeError(f"unit {unit}: {entry.reason}")
        found.append(entry.runtime_data)
    return found


class _PlainSensor(CoordinatorEntity[DataUpdateCoordinator[int]], SensorEntity):
    """A sensor with the least that one can have; its value changes with every update."""

    _attr_device_class = SensorDeviceClass.POWER
    _attr_state_class = SensorStateClass.MEASUREMENT
    _attr_native_unit_of_measurement = "W"
    _attr_has_entity_name = True

    def __init__(self, coordinator: DataUpdateCoordinator[int], number: int, of: int) -> None:
        super().__init__(coordinator)
        self._number = number
        self._attr_unique_id = f"plain-{number}-of-{of}"
        self._attr_name = f"Plain {number} of {of}"

    @property
    def native_value(self) -> int:
        return self.coordinator.data + self._number


async def add_plain_sensors(hass: HomeAssistant, number: int) -> DataUpdateCoordinator[int]:
    """Add sensors that all change at each refresh of the answer: what the platform costs without a line and a map."""
    turns = count()

    async def update() -> int:
        return next(turns)

    coordinator = DataUpdateCoordinator[int](
        hass,
        logging.getLogger(__name__),
        config_entry=None,
        name="plain",
        update_method=update,
        update_interval=timedelta(seconds=_NEVER),
    )
    await coordinator.async_refresh()
    platform = MockEntityPlatform(hass, domain="sensor", platform_name=f"plain_{number}")
    await platform.async_add_entities([_PlainSensor(coordinator, each, number) for each in range(number)])
    return coordinator
