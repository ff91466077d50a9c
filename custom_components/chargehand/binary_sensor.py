"""Binary sensors: alarms, flags, whether the battery is charging by schedule, a draft, the data logger's connection."""

from collections.abc import Iterator, Mapping
from datetime import timedelta
from typing import Any

from homeassistant.components.binary_sensor import BinarySensorDeviceClass, BinarySensorEntity
from homeassistant.const import EntityCategory, Platform
from homeassistant.core import HomeAssistant
from homeassistant.helpers.entity_platform import AddConfigEntryEntitiesCallback
from homeassistant.util import dt as dt_util

from .coordinator import ChargehandConfigEntry, ChargehandCoordinator
from .core.inverter import CLOCK, SCHEDULE, acting
from .core.registers import Reading
from .entity import ChargehandEntity, MapEntity, offer
from .messages import activity_text

PARALLEL_UPDATES = 0


async def async_setup_entry(
    hass: HomeAssistant, entry: ChargehandConfigEntry, async_add_entities: AddConfigEntryEntitiesCallback
) -> None:
    """Add one for each flag and each word of flags, and whether the schedule charges now."""
    offer(entry.runtime_data, Platform.BINARY_SENSOR, async_add_entities, _binary_sensors(entry.runtime_data))


def _binary_sensors(coordinator: ChargehandCoordinator) -> Iterator[ChargehandEntity]:
    register_map = coordinator.inverter.map
    for reading in register_map.readings.values():
        if reading.is_binary:
            yield FlagSensor(coordinator, reading)
    if register_map.schedule is not None and register_map.schedule.charge:
        yield ChargingBySchedule(coordinator)
    if register_map.schedule is not None and coordinator.allow_control:
        yield DraftSensor(coordinator)
    if coordinator.data_logger.served:
        yield DataLoggerSensor(coordinator)


class FlagSensor(MapEntity, BinarySensorEntity):
    """A flag, or a word of flags that is on while any known one is."""

    def __init__(self, coordinator: ChargehandCoordinator, reading: Reading) -> None:
        """Show `reading`."""
        super().__init__(coordinator, reading)
        if reading.device_class is not None:
            self._attr_device_class = BinarySensorDeviceClass(reading.device_class)
        if reading.flags or reading.diagnostic:
            self._attr_entity_category = EntityCategory.DIAGNOSTIC

    @property
    def is_on(self) -> bool | None:
        """Whether any flag is set."""
        value = self.shown
        return None if value is None else bool(value)

    @property
    def extra_state_attributes(self) -> Mapping[str, Any] | None:
        """The texts of the flags that are set."""
        value = self.shown
        return {"active": list(value)} if isinstance(value, tuple) else None


class ChargingBySchedule(ChargehandEntity, BinarySensorEntity):
    """On inside an armed charge window, by the inverter's clock."""

    _attr_translation_key = "charging_by_schedule"

    def __init__(self, coordinator: ChargehandCoordinator) -> None:
        """Need the schedule, and the clock where there is one."""
        needs = {SCHEDULE} | ({CLOCK} if coordinator.inverter.map.clock is not None else set())
        super().__init__(coordinator, "charging_by_schedule", needs)

    @property
    def available(self) -> bool:
        """Whether the schedule could be read."""
        return super().available and self.coordinator.data.schedule is not None

    @property
    def is_on(self) -> bool | None:
        """Whether a window acts now."""
        if self.coordinator.data.schedule is None:
            return None
        now = dt_util.utcnow()
        return bool(acting(self.coordinator.inverter, self.coordinator.data, now, now + timedelta(microseconds=1)))


class DraftSensor(ChargehandEntity, BinarySensorEntity):
    """On while windows are edited and not yet on the inverter."""

    _attr_translation_key = "draft"

    def __init__(self, coordinator: ChargehandCoordinator) -> None:
        """Need the schedule."""
        super().__init__(coordinator, "draft", {SCHEDULE})

    @property
    def available(self) -> bool:
        """A draft stays while the inverter is away."""
        return True

    @property
    def is_on(self) -> bool:
        """Whether there is a draft."""
        return self.coordinator.drafts.kept is not None

    @property
    def extra_state_attributes(self) -> Mapping[str, Any] | None:
        """What it changes, whether the inverter's schedule changed beneath it, and what has become of it so far."""
        kept, held = self.coordinator.drafts.kept, self.coordinator.data.schedule
        if kept is None:
            return None
        draft = kept.draft
        beneath = () if held is None else draft.beneath(held)
        return {
            "changes": None if held is None else activity_text(held, draft.upon(held)),
            "changed_beneath": None if held is None else bool(beneath),
            "inverter_changes": activity_text(draft.base, held) if held is not None and beneath else None,
            "why": kept.why,
            "by": kept.by,
            "applies_at": kept.due,
        }


class DataLoggerSensor(ChargehandEntity, BinarySensorEntity):
    """On while the data logger is connected to its port."""

    _attr_translation_key = "data_logger"
    _attr_device_class = BinarySensorDeviceClass.CONNECTIVITY
    _attr_entity_category = EntityCategory.DIAGNOSTIC

    def __init__(self, coordinator: ChargehandCoordinator) -> None:
        """Need nothing read."""
        super().__init__(coordinator, "data_logger")

    async def async_added_to_hass(self) -> None:
        """Follow who comes and goes."""
        await super().async_added_to_hass()
        self.async_on_remove(self.coordinator.data_logger.on_change(self.async_write_ha_state))

    @property
    def available(self) -> bool:
        """It is also known while the inverter is away."""
        return True

    @property
    def is_on(self) -> bool:
        """Whether it is connected, or was within the last minute."""
        return self.coordinator.data_logger.connected
