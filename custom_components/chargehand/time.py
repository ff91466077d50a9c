"""Times: the start and end of windows, in the house's time."""

from datetime import time

from homeassistant.components.time import TimeEntity
from homeassistant.const import EntityCategory, Platform
from homeassistant.core import HomeAssistant
from homeassistant.helpers.entity_platform import AddConfigEntryEntitiesCallback

from .coordinator import ChargehandConfigEntry
from .core.schedule import DAY
from .entities import window_entities
from .entity import WindowEntity, offer

PARALLEL_UPDATES = 1


async def async_setup_entry(
    hass: HomeAssistant, entry: ChargehandConfigEntry, async_add_entities: AddConfigEntryEntitiesCallback
) -> None:
    """Add the times, where control is allowed."""
    coordinator = entry.runtime_data
    times = window_entities(coordinator, ("start", "end"), WindowTime) if coordinator.allow_control else ()
    offer(coordinator, Platform.TIME, async_add_entities, times)


class WindowTime(WindowEntity, TimeEntity):
    """The start or end of a window; an end at 00:00 is midnight."""

    _attr_entity_category = EntityCategory.CONFIG

    @property
    def native_value(self) -> time | None:
        """The time of day; None while the window is unused."""
        if self.window is None or self.window.start == self.window.end:
            return None
        minute: int = getattr(self.window, self.setting)
        return time(*divmod(minute % DAY, 60))

    async def async_set_value(self, value: time) -> None:
        """Put this time into the draft; windows know no seconds."""
        await self.edit(**{self.setting: value.hour * 60 + value.minute})
