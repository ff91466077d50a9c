"""The energy dashboard: readings are its battery, grid and solar sources without templates, by the platform's own validation."""

from datetime import UTC, datetime
from typing import Any

import pytest
from homeassistant.components.energy import data as energy_data
from homeassistant.components.energy.validate import async_validate
from homeassistant.core import HomeAssistant
from homeassistant.setup import async_setup_component
from pytest_homeassistant_custom_component.common import MockConfigEntry
from pytest_homeassistant_custom_component.components.recorder.common import (
    async_wait_recording_done,
    do_adhoc_statistics,
)

from tests.bench.remote import Bench
from tests.calls import entity_id, state
from tests.moved_time import HouseTime
from tests.powers import house_time, minutes, powers_only

__all__ = ["house_time", "powers_only"]

ENERGIES = (
    "battery_energy_charged",
    "battery_energy_discharged",
    "grid_energy_imported",
    "grid_energy_exported",
    "solar_energy",
)


@pytest.fixture(autouse=True)
def _chargehand_can_be_loaded(recorder_mock: Any, enable_custom_integrations: None) -> None:
    """The energy dashboard needs the recorder, which has to be there before Home Assistant."""


async def in_the_statistics(hass: HomeAssistant) -> None:
    """Let the recorder make statistics of these five minutes, as it does at their end."""
    await async_wait_recording_done(hass)
    now = datetime.now(UTC)
    do_adhoc_statistics(hass, start=now.replace(minute=now.minute // 5 * 5, second=0, microsecond=0))
    await async_wait_recording_done(hass)


async def faults_of_the_dashboard(hass: HomeAssistant) -> list[str]:
    """What the platform's own validation has against Chargehand's energies as battery, grid and solar."""
    assert await async_setup_component(hass, "energy", {})
    ids = {key: entity_id(hass, "sensor", key) for key in (*ENERGIES, "battery_power", "solar_power", "battery_level")}
    manager = await energy_data.async_get_manager(hass)
    battery: energy_data.BatterySourceType = {
        "type": "battery",
        "stat_energy_from": ids["battery_energy_discharged"],
        "stat_energy_to": ids["battery_energy_charged"],
        "stat_rate": ids["battery_power"],
        "stat_soc": ids["battery_level"],
    }
    grid: energy_data.GridSourceType = {
        "type": "grid",
        "stat_energy_from": ids["grid_energy_imported"],
        "stat_energy_to": ids["grid_energy_exported"],
        "stat_cost": None,
        "entity_energy_price": None,
        "number_energy_price": None,
        "stat_compensation": None,
        "entity_energy_price_export": None,
        "number_energy_price_export": None,
        "cost_adjustment_day": 0.0,
    }
    solar: energy_data.SolarSourceType = {
        "type": "solar",
        "stat_energy_from": ids["solar_energy"],
        "stat_rate": ids["solar_power"],
        "config_entry_solar_forecast": None,
    }
    await in_the_statistics(hass)
    await manager.async_update({"energy_sources": [battery, grid, solar]})
    found = await async_validate(hass)
    return [
        f"{kind}: {sorted(issue.affected_entities)}"
        for issues in found.energy_sources
        for kind, issue in issues.issues.items()
    ]


async def test_what_the_inverter_counts_goes_into_the_energy_dashboard(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    assert await faults_of_the_dashboard(hass) == []
    for key in ENERGIES:
        shown = state(hass, "sensor", key).attributes
        assert (shown["device_class"], shown["state_class"], shown["unit_of_measurement"]) == (
            "energy",
            "total_increasing",
            "kWh",
        )
        assert "source" not in shown, "counted by the inverter itself"
    # The check can fail.
    one = state(hass, "sensor", "solar_energy")
    hass.states.async_set(one.entity_id, one.state, {**one.attributes, "unit_of_measurement": "W"})
    assert any("unit" in fault and one.entity_id in fault for fault in await faults_of_the_dashboard(hass))


async def test_what_is_calculated_from_powers_goes_into_the_energy_dashboard_and_says_so(
    hass: HomeAssistant, bench: Bench, powers_only: MockConfigEntry, house_time: HouseTime
) -> None:
    await minutes(hass, powers_only, house_time, 2)
    assert await faults_of_the_dashboard(hass) == []
    for key in ENERGIES:
        shown = state(hass, "sensor", key).attributes
        assert (shown["device_class"], shown["state_class"], shown["unit_of_measurement"]) == (
            "energy",
            "total_increasing",
            "kWh",
        )
        assert shown["friendly_name"].endswith("(calculated from power)")
        assert shown["source"] in {"battery_power", "grid_power", "solar_power"}
