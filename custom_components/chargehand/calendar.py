"""Calendar: the charge windows of the coming days, and those that were."""

from datetime import datetime, timedelta

from homeassistant.components.calendar import CalendarEntity, CalendarEvent
from homeassistant.const import Platform
from homeassistant.core import HomeAssistant, callback
from homeassistant.helpers.entity_platform import AddConfigEntryEntitiesCallback
from homeassistant.util import dt as dt_util

from .coordinator import ChargehandConfigEntry, ChargehandCoordinator
from .core.inverter import FOLLOWED, acting, clock_ahead
from .core.schedule import Acting
from .entity import ChargehandEntity, offer
from .messages import charge_text, charged_text, name_text

PARALLEL_UPDATES = 0

AHEAD = timedelta(days=31)
"""How far the windows of today are taken to hold: a month's page of a calendar."""


async def async_setup_entry(
    hass: HomeAssistant, entry: ChargehandConfigEntry, async_add_entities: AddConfigEntryEntitiesCallback
) -> None:
    """Add the calendar, where there are charge windows."""
    coordinator = entry.runtime_data
    points = coordinator.inverter.map.schedule
    charges = points is not None and bool(points.charge)
    offer(coordinator, Platform.CALENDAR, async_add_entities, [ScheduleCalendar(coordinator)] if charges else [])


class ScheduleCalendar(ChargehandEntity, CalendarEntity):
    """The charge windows as events. Nothing can be added to it: windows are set by their entities and actions."""

    _attr_translation_key = "schedule"

    def __init__(self, coordinator: ChargehandCoordinator) -> None:
        """Need the schedule, the clock and the level, as far as the map has them."""
        super().__init__(coordinator, "schedule", FOLLOWED & coordinator.inverter.reader.all_keys())
        self._past = coordinator.past
        self._seen: object = None
        """What the events were made of when they were written last."""

    @callback
    def _handle_coordinator_update(self) -> None:
        coordinator, past = self.coordinator, self._past.past
        seen = (
            self.available,
            coordinator.data.schedule,
            coordinator.inverter.shift(),
            clock_ahead(coordinator.data),
            past[-1] if past else None,
        )
        # The platform itself writes when an event begins or ends.
        if seen != self._seen:
            self._seen = seen
            super()._handle_coordinator_update()

    @property
    def available(self) -> bool:
        """Whether the schedule could be read and understood."""
        return super().available and self.coordinator.data.schedule is not None

    @property
    def event(self) -> CalendarEvent | None:
        """The window that acts now, else the next one."""
        now = dt_util.utcnow()
        return next((self._coming(one) for one in self._acting(now, now + timedelta(days=2))), None)

    async def async_get_events(
        self, hass: HomeAssistant, start_date: datetime, end_date: datetime
    ) -> list[CalendarEvent]:
        """Windows that were and that will be between two moments."""
        now = dt_util.utcnow()
        was = [
            _event(one.start, one.end, charged_text(one.reached, one.wanted), one.number)
            for one in self._past.past
            if one.start < end_date and one.end > start_date
        ]
        first, last = max(start_date, now), min(end_date, now + AHEAD)
        return was + [self._coming(one) for one in (self._acting(first, last) if first < last else ())]

    def _acting(self, first: datetime, last: datetime) -> list[Acting]:
        return acting(self.coordinator.inverter, self.coordinator.data, first, last)

    def _coming(self, one: Acting) -> CalendarEvent:
        running = self._past.running.get(one.number)
        start = running.start if running is not None and running.was(one) else one.start
        return _event(start, one.end, charge_text(one.window), one.number)


def _event(start: datetime, end: datetime, summary: str, number: int) -> CalendarEvent:
    """Return a charge window between two moments."""
    begins, ends = dt_util.as_local(start), dt_util.as_local(end)
    # The platform compares what clocks on the wall show. One that begins in the hour that comes twice, and ends in it when it
    # comes again, would end before it begins there: it is shown from when that hour showed its end for the first time.
    if begins.replace(tzinfo=None) > ends.replace(tzinfo=None):
        begins = ends.replace(fold=0)
    return CalendarEvent(start=begins, end=ends, summary=summary, description=name_text(f"charge_window_{number}"))
