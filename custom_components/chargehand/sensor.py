"""Sensors: every number and label of the map, and what Chargehand knows beside it."""

from homeassistant.components.sensor import (
    SensorDeviceClass,
    SensorEntity,
    SensorEntityDescription,
    SensorStateClass,
)
from homeassistant.const import EntityCategory
from homeassistant.core import HomeAssistant
from homeassistant.helpers.entity_platform import AddConfigEntryEntitiesCallback
from homeassistant.helpers.typing import StateType

from .coordinator import ChargehandConfigEntry, ChargehandCoordinator
from .entity import MapEntity
from .own_sensors import OWN_SENSORS, OwnSensor
from .reckoned_energy import ReckonedEnergy, reckonings
from .registers import KNOWN_READINGS, KnownReading, Reading
from .snapshot import CLOCK, SCHEDULE

PARALLEL_UPDATES = 0


async def async_setup_entry(
    hass: HomeAssistant, entry: ChargehandConfigEntry, async_add_entities: AddConfigEntryEntitiesCallback
) -> None:
    """Add a sensor for each reading that is neither a flag nor flags, and those beyond the map."""
    coordinator = entry.runtime_data
    register_map = coordinator.inverter.map
    possible = {SCHEDULE: register_map.schedule, CLOCK: register_map.clock}
    async_add_entities(
        MapSensor(coordinator, reading)
        for reading in register_map.readings.values()
        if not reading.flags and not reading.point.flag
    )
    async_add_entities(
        OwnSensor(coordinator, description)
        for description in OWN_SENSORS
        if all(possible[key] is not None for key in description.needs)
    )
    async_add_entities(ReckonedEnergy(coordinator, reckoning) for reckoning in reckonings(register_map))


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
        entity_category=EntityCategory.DIAGNOSTIC if known.diagnostic else None,
    )


class MapSensor(MapEntity, SensorEntity):
    """A reading of the map."""

    def __init__(self, coordinator: ChargehandCoordinator, reading: Reading) -> None:
        """Show `reading`."""
        super().__init__(coordinator, reading)
        self.entity_description = describe(reading)

    @property
    def native_value(self) -> StateType:
        """The value in the quantity's own unit, or its label."""
        value = self.shown
        return None if isinstance(value, tuple) else value
