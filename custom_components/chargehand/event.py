"""Events: what has happened to the schedule."""

from homeassistant.components.event import EventEntity
from homeassistant.const import Platform
from homeassistant.core import HomeAssistant, callback
from homeassistant.helpers.entity_platform import AddConfigEntryEntitiesCallback

from .changes import ScheduleEvent
from .coordinator import ChargehandConfigEntry, ChargehandCoordinator
from .core.inverter import SCHEDULE
from .entity import ChargehandEntity, offer

PARALLEL_UPDATES = 0


async def async_setup_entry(
    hass: HomeAssistant, entry: ChargehandConfigEntry, async_add_entities: AddConfigEntryEntitiesCallback
) -> None:
    """Add the event, where there is a schedule."""
    coordinator = entry.runtime_data
    has_schedule = coordinator.inverter.map.schedule is not None
    offer(coordinator, Platform.EVENT, async_add_entities, [ScheduleEvents(coordinator)] if has_schedule else [])


class ScheduleEvents(ChargehandEntity, EventEntity):
    """Fires when the schedule was confirmed, restored, changed elsewhere, or is uncertain."""

    _attr_translation_key = "schedule_event"

    def __init__(self, coordinator: ChargehandCoordinator) -> None:
        """Need the schedule."""
        super().__init__(coordinator, "schedule_event", {SCHEDULE}, shows={SCHEDULE})
        self._attr_event_types = list(ScheduleEvent)

    async def async_added_to_hass(self) -> None:
        """Listen to the coordinator."""
        await super().async_added_to_hass()
        self.async_on_remove(self.coordinator.activity_log.on_event(self._fire))

    @callback
    def _fire(self, event: ScheduleEvent, details: dict[str, object]) -> None:
        self._trigger_event(event, details)
        self.async_write_ha_state()

    @property
    def available(self) -> bool:
        """What has happened stays true while the inverter is away."""
        return True
