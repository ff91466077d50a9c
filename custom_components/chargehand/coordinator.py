"""Polls one inverter for Home Assistant, and carries out what its users ask of it."""

import logging
from collections.abc import Awaitable, Callable
from dataclasses import asdict, dataclass, replace
from datetime import datetime, timedelta
from enum import StrEnum

from homeassistant.config_entries import ConfigEntry
from homeassistant.core import HomeAssistant, callback
from homeassistant.helpers.update_coordinator import DataUpdateCoordinator, UpdateFailed
from homeassistant.util import dt as dt_util

from .const import (
    CONF_ALLOW_CONTROL,
    CONF_FAST_SECONDS,
    CONF_SLOW_SECONDS,
    DEFAULT_FAST_SECONDS,
    DEFAULT_SLOW_SECONDS,
    DOMAIN,
)
from .inverter import CLOCK, SCHEDULE, Committed, Inverter, Polled
from .line import LineError
from .registers import Poll
from .schedule.commit import NotTaken, Uncertain
from .schedule.image import Image
from .schedule.receipt import Receipt
from .schedule.request import ScheduleRequest
from .schedule.windows import Schedule
from .snapshot import ReadingValue, Snapshot

_LOGGER = logging.getLogger(__name__)

type ChargehandConfigEntry = ConfigEntry[ChargehandCoordinator]


class ScheduleStatus(StrEnum):
    """What is known of the schedule on the inverter."""

    CONFIRMED = "confirmed"
    CHANGED_ELSEWHERE = "changed_elsewhere"
    UNCONFIRMED = "unconfirmed"
    UNKNOWN = "unknown"


class ScheduleEvent(StrEnum):
    """What has happened to the schedule."""

    CONFIRMED = "confirmed"
    RESTORED = "restored"
    CHANGED_ELSEWHERE = "changed_elsewhere"
    UNCERTAIN = "uncertain"


@dataclass(frozen=True, kw_only=True, slots=True)
class Standing:
    """The schedule's status, since when, and by what it came about."""

    status: ScheduleStatus = ScheduleStatus.UNKNOWN
    since: datetime | None = None
    by: str | None = None


class ChargehandCoordinator(DataUpdateCoordinator[Snapshot]):
    """Reads what enabled entities need, fast and slow; the only one that entities and actions ask to write."""

    config_entry: ChargehandConfigEntry

    def __init__(self, hass: HomeAssistant, entry: ChargehandConfigEntry, inverter: Inverter) -> None:
        """Poll `inverter` at the entry's intervals."""
        super().__init__(
            hass,
            _LOGGER,
            config_entry=entry,
            name=entry.title,
            update_interval=timedelta(seconds=entry.options.get(CONF_FAST_SECONDS, DEFAULT_FAST_SECONDS)),
            always_update=False,
        )
        self.inverter = inverter
        self.allow_control = bool(entry.options.get(CONF_ALLOW_CONTROL, False))
        self.standing = Standing()
        self.unique_ids: set[str] = set()
        """Of all entities that the map and the options have now, enabled or not."""

        self.data = Snapshot()
        self._slow_seconds = float(entry.options.get(CONF_SLOW_SECONDS, DEFAULT_SLOW_SECONDS))
        self._slow_due = 0.0
        self._read_slow: frozenset[str] = frozenset()
        self._missed: dict[str, int] = {}
        self._failed_polls = 0
        self._confirmed: Image | None = None
        self._event_listeners: list[Callable[[ScheduleEvent, dict[str, object]], None]] = []

    # ---- reading

    async def _async_update_data(self) -> Snapshot:
        """Read what is due. One poll that fails is forgiven; at the second the entities become unavailable."""
        now = self.hass.loop.time()
        wanted = self._wanted()
        # What an entity enabled a moment ago needs does not wait for the next slow poll.
        slow = now >= self._slow_due or bool(wanted - self._read_slow)
        rates = {Poll.FAST, Poll.SLOW, Poll.ONCE} if slow else {Poll.FAST}
        try:
            polled = await self.inverter.poll(wanted, rates)
        except LineError as error:
            self._failed_polls += 1
            if self._failed_polls < 2 and self.last_update_success and self.data.read_at is not None:
                return self.data
            self._slow_due = 0.0
            raise UpdateFailed(
                translation_domain=DOMAIN,
                translation_key="line_down",
                translation_placeholders={"reason": str(error)},
            ) from error
        self._failed_polls = 0
        if slow:
            self._slow_due = now + self._slow_seconds
            self._read_slow = wanted
        snapshot = self._merged(wanted, polled)
        if polled.image is not None:
            self._watch(polled.image)
        return snapshot

    def _wanted(self) -> frozenset[str]:
        """Keys that some enabled entity shows, and what the schedule needs."""
        wanted: set[str] = set().union(*self.async_contexts())
        if not wanted:
            # The first poll comes before the entities: it reads all, so that they start with their values.
            wanted = self.inverter.map.readings.keys() | self.inverter.map.controls.keys()
        if self.inverter.map.schedule is not None:
            wanted.add(SCHEDULE)
        if self.inverter.map.clock is not None:
            wanted.add(CLOCK)
        return frozenset(wanted)

    def _merged(self, wanted: frozenset[str], polled: Polled) -> Snapshot:
        """Values of this poll over those before; a value whose read failed twice in a row is left out."""
        for key in polled.missed:
            self._missed[key] = self._missed.get(key, 0) + 1
        for key in wanted - polled.missed:
            self._missed.pop(key, None)
        gone = {key for key, count in self._missed.items() if count > 1}
        kept = {key: value for key, value in self.data.values.items() if key in wanted and key not in gone}
        snapshot = replace(self.data, values=kept | polled.values, read_at=dt_util.utcnow())
        if SCHEDULE in gone or (polled.image is not None and polled.schedule is None):
            snapshot = replace(snapshot, schedule=None)
        elif polled.schedule is not None:
            snapshot = replace(snapshot, schedule=polled.schedule)
        if CLOCK in gone:
            return replace(snapshot, clock_offset=None)
        return snapshot if polled.clock_offset is None else replace(snapshot, clock_offset=polled.clock_offset)

    def _watch(self, image: Image) -> None:
        """Notice when the schedule is no longer the one that was confirmed."""
        if self._confirmed is None:
            return
        if image == self._confirmed:
            if self.standing.status is not ScheduleStatus.CONFIRMED:
                self._stand(ScheduleStatus.CONFIRMED, "read_back")
        elif self.standing.status is ScheduleStatus.CONFIRMED:
            self._stand(ScheduleStatus.CHANGED_ELSEWHERE, "elsewhere")
            self._tell(ScheduleEvent.CHANGED_ELSEWHERE, {})

    # ---- writing

    async def apply_schedule(self, request: ScheduleRequest, by: str) -> Receipt:
        """Check and commit a schedule. Raises as `Inverter.apply` does."""
        return await self._committed(self.inverter.apply(request), by)

    async def edit_schedule(self, change: Callable[[Schedule], Schedule], by: str) -> Receipt:
        """Commit the inverter's schedule with one change. Raises as `Inverter.edit` does."""
        return await self._committed(self.inverter.edit(change), by)

    async def _committed(self, work: Awaitable[Committed], by: str) -> Receipt:
        try:
            done = await work
        except NotTaken as fault:
            self._stand(ScheduleStatus.CONFIRMED, by, fault.image)
            self._tell(ScheduleEvent.RESTORED, {"reason": str(fault)})
            raise
        except Uncertain as fault:
            self._stand(ScheduleStatus.UNCONFIRMED, by)
            self._tell(ScheduleEvent.UNCERTAIN, {"reason": str(fault)})
            raise
        self._stand(ScheduleStatus.CONFIRMED, by, done.image)
        self.async_set_updated_data(
            replace(self.data, schedule=done.schedule, values={**self.data.values, **self._arming(done.image)})
        )
        if done.receipt.changes:
            self._tell(ScheduleEvent.CONFIRMED, {"changes": [asdict(change) for change in done.receipt.changes]})
        return done.receipt

    def _arming(self, image: Image) -> dict[str, ReadingValue]:
        """The control that arms the windows, as an image has it: its entity must not lag behind the schedule."""
        points = self.inverter.map.schedule
        if points is None or points.armed_by is None or points.armed_by.control.key not in self.data.values:
            return {}
        control = points.armed_by.control
        return {control.key: control.decode(image)}

    def _stand(self, status: ScheduleStatus, by: str, image: Image | None = None) -> None:
        if image is not None:
            self._confirmed = image
        self.standing = Standing(status=status, since=dt_util.utcnow(), by=by)
        self.async_update_listeners()

    @callback
    def take_control_value(self, key: str, value: ReadingValue) -> None:
        """Show a control's value that was just read back, without waiting for the next slow poll."""
        self.async_set_updated_data(replace(self.data, values={**self.data.values, key: value}))

    @callback
    def take_clock_offset(self, seconds: float) -> None:
        """Show the clock's offset that was just read."""
        self.async_set_updated_data(replace(self.data, clock_offset=seconds))

    # ---- events

    @callback
    def on_event(self, listener: Callable[[ScheduleEvent, dict[str, object]], None]) -> Callable[[], None]:
        """Call `listener` when something happens to the schedule; answers with how to stop that."""
        self._event_listeners.append(listener)
        return lambda: self._event_listeners.remove(listener)

    def _tell(self, event: ScheduleEvent, details: dict[str, object]) -> None:
        for listener in list(self._event_listeners):
            listener(event, details)
