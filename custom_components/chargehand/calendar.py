"""Calendar: the charge windows of the coming days, and those that were."""

from datetime import datetime, timedelta

from homeassistant.components.calendar import CalendarEntity, CalendarEvent
from homeassistant.core import HomeAssistant, callback
from homeassistant.helpers.entity_platform import AddConfigEntryEntitiesCallback
from homeassistant.util import dt as dt_util

from .coordinator import ChargehandConfigEntry, ChargehandCoordinator
from .entity import ChargehandEntity
from .past_windows import PastWindows
from .registers import Keeps
from .schedule.clock import inverter_time
from .schedule.days import Acting, acting_times
from .schedule.windows import DAY
from .snapshot import CLOCK, SCHEDULE
from .words import charge_text, charged_text

PARALLEL_UPDATES = 0

AHEAD = timedelta(days=31)
"""How far the windows of today are taken to hold: a month's page of a calendar."""

LEVEL = "battery_level"


async def async_setup_entry(
    hass: HomeAssistant, entry: ChargehandConfigEntry, async_add_entities: AddConfigEntryEntitiesCallback
) -> None:
    """Add the calendar, where there are charge windows."""
    coordinator = entry.runtime_data
    points = coordinator.inverter.map.schedule
    if points is not None and points.charge:
        past = PastWindows(hass, entry.entry_id)
        await past.load()
        async_add_entities([ScheduleCalendar(coordinator, past)])


class ScheduleCalendar(ChargehandEntity, CalendarEntity):
    """The charge windows as events. Nothing can be added to it: windows are set by their entities and actions."""

    _attr_translation_key = "schedule"

    def __init__(self, coordinator: ChargehandCoordinator, past: PastWindows) -> None:
        """Need the schedule, the clock and the level, as far as the map has them."""
        inverter = coordinator.inverter
        has = inverter.all_keys()
        super().__init__(coordinator, "schedule", {SCHEDULE, CLOCK, LEVEL} & has)
        self._past = past
        self._seen: object = None
        """What the events were made of when they were written last."""

        self._keeps = Keeps.LOCAL if inverter.map.clock is None else inverter.map.clock.keeps

    async def async_added_to_hass(self) -> None:
        """Look at once whether a window is under way."""
        await super().async_added_to_hass()
        self._follow()

    async def async_will_remove_from_hass(self) -> None:
        """Leave what is known on disk."""
        await self._past.save()
        await super().async_will_remove_from_hass()

    @callback
    def _handle_coordinator_update(self) -> None:
        self._follow()
        seen = self.available, self.coordinator.data.schedule, self.coordinator.inverter.shift(), self._ahead
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
            CalendarEvent(
                start=dt_util.as_local(one.start),
                end=dt_util.as_local(one.end),
                summary=charged_text(one.reached, one.wanted),
                description=f"charge window {one.number}",
            )
            for one in self._past.past
            if one.start < end_date and one.end > start_date
        ]
        first, last = max(start_date, now), min(end_date, now + AHEAD)
        return was + [self._coming(one) for one in (self._acting(first, last) if first < last else ())]

    def _coming(self, one: Acting) -> CalendarEvent:
        running = self._past.running.get(one.number)
        start = running.start if running is not None and running.start < one.end <= running.end else one.start
        return CalendarEvent(
            start=dt_util.as_local(start),
            end=dt_util.as_local(one.end),
            summary=charge_text(one.window),
            description=f"charge window {one.number}",
        )

    @property
    def _ahead(self) -> timedelta:
        """How far the inverter's clock is wrong, in whole minutes and as far as its time of day goes."""
        minutes = round((self.coordinator.data.clock_offset or 0.0) / 60)
        return timedelta(minutes=(minutes + DAY // 2) % DAY - DAY // 2)

    def _acting(self, first: datetime, last: datetime) -> list[Acting]:
        schedule, inverter = self.coordinator.data.schedule, self.coordinator.inverter
        if schedule is None:
            return []
        ahead = self._ahead
        return acting_times(
            schedule, lambda at: inverter_time(self._keeps, at, inverter.zone) + ahead, inverter.shift(), first, last
        )

    def _follow(self) -> None:
        """Keep what begins and ends, as far as the inverter was seen."""
        data = self.coordinator.data
        if not self.available or data.read_at is None:
            return
        now = dt_util.utcnow()
        level = data.values.get(LEVEL)
        self._past.follow(
            self._acting(now, now + timedelta(microseconds=1)),
            now,
            float(level) if isinstance(level, int | float) else None,
        )
