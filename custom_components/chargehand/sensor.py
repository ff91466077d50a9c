"""Sensors: every number and label of the map, and what Chargehand knows beside it."""

from collections.abc import Iterator, Mapping
from typing import Any

from homeassistant.components.sensor import (
    SensorDeviceClass,
    SensorEntity,
    SensorEntityDescription,
    SensorStateClass,
)
from homeassistant.const import EntityCategory, Platform
from homeassistant.core import HomeAssistant
from homeassistant.helpers.entity_platform import AddConfigEntryEntitiesCallback
from homeassistant.helpers.typing import StateType

from .coordinator import ChargehandConfigEntry, ChargehandCoordinator
from .core.inverter import CLOCK, SCHEDULE
from .core.registers import KNOWN_READINGS, KnownReading, Reading
from .entities import LINE_SENSORS, OWN_SENSORS, CalculatedEnergy, OwnSensor, calculations
from .entity import ChargehandEntity, MapEntity, offer

PARALLEL_UPDATES = 0


async def async_setup_entry(
    hass: HomeAssistant, entry: ChargehandConfigEntry, async_add_entities: AddConfigEntryEntitiesCallback
) -> None:
    """Add a sensor for each reading that is neither a flag nor flags, and those beyond the map."""
    offer(entry.runtime_data, Platform.SENSOR, async_add_entities, _sensors(entry.runtime_data))


def _sensors(coordinator: ChargehandCoordinator) -> Iterator[ChargehandEntity]:
    register_map = coordinator.inverter.map
    possible = {SCHEDULE: register_map.schedule, CLOCK: register_map.clock}
    for reading in register_map.readings.values():
        if not reading.is_binary:
            yield MapSensor(coordinator, reading)
    for description in (*OWN_SENSORS, *LINE_SENSORS):
        if all(possible[key] is not None for key in description.needs) and description.exists_fn(coordinator):
            yield OwnSensor(coordinator, description)
    for calculation in calculations(register_map):
        yield CalculatedEnergy(coordinator, calculation)


def describe(reading: Reading) -> SensorEntityDescription:
    """How the platform shows a reading."""
    known = KNOWN_READINGS.get(reading.key, KnownReading())
    device_class = None if reading.device_class is None else SensorDeviceClass(reading.device_class)
    if reading.labels:
        device_class = SensorDeviceClass.ENUM
    elif device_class is SensorDeviceClass.ENUM:
        device_class = None
    return SensorEntityDescription(
        key=reading.key,
        device_class=device_class,
        state_class=None if reading.state_class is None or reading.labels else SensorStateClass(reading.state_class),
        native_unit_of_measurement=None if reading.labels else reading.unit,
        options=list(reading.labels.values()) if reading.labels else None,
        suggested_display_precision=None if reading.labels else known.precision,
        entity_category=EntityCategory.DIAGNOSTIC if reading.diagnostic else None,
    )


class MapSensor(MapEntity, SensorEntity):
    """A reading of the map."""

    def __init__(self, coordinator: ChargehandCoordinator, reading: Reading) -> None:
        """Show `reading`."""
        super().__init__(coordinator, reading)
        self.entity_description = describe(reading)
        self._reading = reading

    @property
    def native_value(self) -> StateType:
        """The value in the quantity's own unit, or its label."""
        value = self.shown
        return None if isinstance(value, tuple) else value

    @property
    def extra_state_attributes(self) -> Mapping[str, Any] | None:
        """Which way it goes, for a power or current that can go both ways."""
        value = self.shown
        if self._reading.positive is None or not isinstance(value, int | float):
            return None
        return {"direction": self._reading.direction(value)}
