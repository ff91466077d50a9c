"""Polls one inverter for Home Assistant, and carries out what its users ask of it."""

import logging
from collections import Counter
from collections.abc import Awaitable, Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import asdict, replace
from datetime import datetime, timedelta
from typing import Any

from homeassistant.config_entries import ConfigEntry
from homeassistant.core import CALLBACK_TYPE, HomeAssistant, callback
from homeassistant.helpers import entity_registry as er
from homeassistant.helpers.update_coordinator import DataUpdateCoordinator, UpdateFailed
from homeassistant.util import dt as dt_util

from .const import (
    CONF_ALLOW_CONTROL,
    CONF_FAST_SECONDS,
    CONF_SET_CLOCK_SECONDS,
    CONF_SLOW_SECONDS,
    DEFAULT_FAST_SECONDS,
    DEFAULT_SLOW_SECONDS,
    DOMAIN,
    EVENT_CLOCK,
    EVENT_SCHEDULE,
)
from .inverter import Committed, Inverter
from .issues import CHANGED, GATEWAY_TAKEN, SUMMER_TIME, TWO_MASTERS, UNCERTAIN, WEAR, clear_issue, raise_issue
from .ledger import Ledger
from .line import LineError, Lost, NoConnection
from .nights import Night, Nights
from .past_windows import PastWindows
from .polling import Polled
from .registers import Poll
from .schedule.clock_setting import may_set_clock
from .schedule.commit import NotTaken, Uncertain
from .schedule.image import Image, NoImage
from .schedule.journal import Entry, Verdict
from .schedule.receipt import Receipt
from .schedule.request import ScheduleRequest
from .schedule.windows import Change, Schedule, changes
from .snapshot import CLOCK, SCHEDULE, ReadingValue, Snapshot
from .standing import Failure, ScheduleEvent, ScheduleStatus, Standing
from .words import changes_text, clock_text, diary_text, schedule_text

_LOGGER = logging.getLogger(__name__)

type ChargehandConfigEntry = ConfigEntry[ChargehandCoordinator]


type _Taken = tuple[frozenset[str], Mapping[str, ReadingValue], Mapping[str, ReadingValue]]
"""The keys wanted at a poll, the values that it brought, and those shown after it."""

MANY_COMMITS = 50
"""Commits of a day from which somebody is told: flash is good for about 100 000 writes a cell (common practice, no source)."""


POLLS_UNTIL_TOLD = 3
"""Polls in a row that the gateway dropped, from which the cause is named."""

FAILURES_UNTIL_TOLD = 3
"""Failed requests and damaged answers of the last minute, from which two masters on one bus are named."""


class NothingBefore(Exception):
    """There is no schedule to put back: `key` says in which sense."""

    def __init__(self, key: str) -> None:
        """`nothing_before` or `nothing_confirmed`."""
        super().__init__(key)
        self.key = key


class ChargehandCoordinator(DataUpdateCoordinator[Snapshot]):
    """Reads what enabled entities need, fast and slow; the only one that entities and actions ask to write."""

    config_entry: ChargehandConfigEntry

    def __init__(self, hass: HomeAssistant, entry: ChargehandConfigEntry, inverter: Inverter, ledger: Ledger) -> None:
        """Poll `inverter` at the entry's intervals."""
        super().__init__(
            hass,
            _LOGGER,
            config_entry=entry,
            name=entry.title,
            update_interval=timedelta(seconds=entry.options.get(CONF_FAST_SECONDS, DEFAULT_FAST_SECONDS)),
        )
        self.inverter = inverter
        inverter.journal = ledger
        inverter.on_written = self._count_written
        self.ledger = ledger
        self.allow_control = bool(entry.options.get(CONF_ALLOW_CONTROL, False))
        self.standing = Standing()
        self.last_failure: Failure | None = None
        """Of the changes asked for since one was last confirmed."""

        self.past = PastWindows(hass, entry.entry_id)
        self.nights = Nights(hass, entry.entry_id)
        self.unique_ids: set[str] = set()
        """Of all entities that the map and the options have now, enabled or not."""

        self.data = Snapshot()
        self._slow_seconds = float(entry.options.get(CONF_SLOW_SECONDS, DEFAULT_SLOW_SECONDS))
        self._slow_due = 0.0
        self._put_back_due = 0.0
        self._read_slow: frozenset[str] = frozenset()
        self._missed: dict[str, int] = {}
        self._taken: _Taken = frozenset(), {}, {}
        self._wanted: frozenset[str] | None = None
        self._told: tuple[bool, Snapshot] | None = None
        self.changed: frozenset[str] | None = None
        """Keys of what is not as entities were told before, while they are told; None: all may be another."""

        self._failed_polls = 0
        self._changed_to: Image | None = None
        self._callers: Counter[str] = Counter()
        self._event_listeners: list[Callable[[ScheduleEvent, dict[str, object]], None]] = []

    # ---- what outlives a restart

    async def _async_setup(self) -> None:
        """Read what is kept of windows and nights."""
        await self.past.load()
        await self.nights.load()

    async def save(self) -> None:
        """Write what is known of windows and nights to disk."""
        await self.past.save()
        await self.nights.save()

    # ---- reading

    async def _async_update_data(self) -> Snapshot:
        """Read what is due. One poll that fails is forgiven; at the second the entities become unavailable."""
        now = self.hass.loop.time()
        wanted = self.wanted_keys()
        # What an entity enabled a moment ago needs does not wait for the next slow poll.
        slow = now >= self._slow_due or bool(wanted - self._read_slow)
        rates = {Poll.FAST, Poll.SLOW} if slow else {Poll.FAST}
        if not wanted <= self._read_slow:
            rates.add(Poll.ONCE)
        try:
            polled = await self.inverter.poll(wanted, rates, silent_for=self._failed_polls)
        except LineError as error:
            self._failed_polls += 1
            self._look_at_line(error)
            if self._failed_polls < 2 and self.last_update_success and self.data.read_at is not None:
                return self.data
            self._slow_due = 0.0
            raise UpdateFailed(
                translation_domain=DOMAIN,
                translation_key="line_down",
                translation_placeholders={"reason": str(error)},
            ) from error
        self._failed_polls = 0
        self._look_at_line(polled.failure)
        if slow:
            self._slow_due = now + self._slow_seconds
            self._read_slow = wanted
        snapshot = self._merged(wanted, polled)
        if polled.clock_offset is not None:
            snapshot = await self._kept_right(snapshot, polled.clock_offset)
        if self.ledger.unfinished is not None:
            await self._settle(self.ledger.unfinished)
        elif polled.image is not None:
            self._watch(polled.image)
        return snapshot

    async def _kept_right(self, snapshot: Snapshot, offset: float) -> Snapshot:
        """Set the clock when it is further off than the user lets it be: at most once a day, and never near a window's edge."""
        most = self.config_entry.options.get(CONF_SET_CLOCK_SECONDS, 0)
        now = dt_util.now()
        today = now.date().isoformat()
        if not (self.allow_control and most and abs(offset) > most and self.ledger.clock_set_on != today):
            return snapshot
        if not may_set_clock(snapshot.schedule, now, offset, self.inverter.zone):
            return snapshot
        # Also a try that fails was one of the day: a clock that does not take the time is not written every minute.
        await self.ledger.clock_was_set(today)
        try:
            before, after = await self.inverter.set_clock()
        except (LineError, NotTaken, NoImage) as fault:
            _LOGGER.warning("The clock of %s could not be set: %s", self.config_entry.title, fault)
            return snapshot
        self._tell_clock(before, after, "its options")
        return replace(snapshot, clock_offset=after)

    def _look_at_line(self, failure: LineError | None) -> None:
        """Name what is wrong with the line where its failures have a known cause that only the user can cure."""
        gateway = self.inverter.line.gateway
        entry = self.config_entry
        now = self.hass.loop.time()
        dropped = isinstance(failure, NoConnection) and failure.lost is Lost.DROPPED
        if dropped and self._failed_polls >= POLLS_UNTIL_TOLD:
            raise_issue(self.hass, entry.entry_id, GATEWAY_TAKEN, gateway=str(gateway.endpoint))
        elif failure is None:
            clear_issue(self.hass, entry.entry_id, GATEWAY_TAKEN)
        # A queueing gateway sends a client its own answers only: what comes unasked is another master's traffic.
        unasked, failed = gateway.health.unasked(now), gateway.health.errors(now) + gateway.health.damaged(now)
        if unasked and failed >= FAILURES_UNTIL_TOLD:
            raise_issue(
                self.hass,
                entry.entry_id,
                TWO_MASTERS,
                gateway=str(gateway.endpoint),
                errors=str(failed),
                bytes=str(unasked),
            )
        elif not unasked:
            clear_issue(self.hass, entry.entry_id, TWO_MASTERS)

    @callback
    def async_update_listeners(self) -> None:
        """Tell entities, and which of them need not look: most values of most polls are as they were."""
        before, self._told = self._told, (self.last_update_success, self.data)
        if before is None or before[0] is not self.last_update_success:
            self.changed = None
        else:
            self.changed = self.data.differs(before[1])
        super().async_update_listeners()

    @callback
    def async_add_listener(self, update_callback: CALLBACK_TYPE, context: Any = None) -> Callable[[], None]:
        """Also forget which keys are wanted: the listener's context names keys."""
        self._wanted = None
        remove = super().async_add_listener(update_callback, context)

        @callback
        def removed() -> None:
            self._wanted = None
            remove()

        return removed

    def wanted_keys(self) -> frozenset[str]:
        """Keys that some enabled entity shows, and what the schedule needs."""
        if self._wanted is None:
            every = self.inverter.all_keys()
            # The first poll comes before the entities: it reads all, so that they start with their values.
            shown: frozenset[str] = frozenset().union(*self.async_contexts()) or every
            self._wanted = shown | (every & {SCHEDULE, CLOCK})
        return self._wanted

    def _merged(self, wanted: frozenset[str], polled: Polled) -> Snapshot:
        """Values of this poll over those before; a value whose read failed twice in a row is left out."""
        for key in polled.missed:
            self._missed[key] = self._missed.get(key, 0) + 1
        # What was not asked for this time was neither missed nor read: a slow reading keeps its count until it is due again.
        for key in (polled.asked - polled.missed) & self._missed.keys():
            del self._missed[key]
        gone = {key for key, count in self._missed.items() if count > 1}
        before, brought, values = self._taken
        # Nothing new in this poll, nor in what is shown since the one before: two hundred values need not be gone through.
        if gone or before != wanted or brought is not polled.values or values is not self.data.values:
            values = {**self.data.values, **polled.values}
            if gone or not values.keys() <= wanted:
                values = {key: value for key, value in values.items() if key in wanted and key not in gone}
            self._taken = wanted, polled.values, values
        snapshot = replace(self.data, values=values, read_at=dt_util.utcnow())
        if SCHEDULE in gone or (polled.image is not None and polled.schedule is None):
            snapshot = replace(snapshot, schedule=None)
        elif polled.schedule is not None:
            snapshot = replace(snapshot, schedule=polled.schedule)
        if CLOCK in gone:
            return replace(snapshot, clock_offset=None)
        return snapshot if polled.clock_offset is None else replace(snapshot, clock_offset=polled.clock_offset)

    def _watch(self, image: Image) -> None:
        """Notice when the schedule is no longer the one that was confirmed, and when it is again."""
        confirmed = self.ledger.confirmed
        if confirmed is None:
            return
        if self.inverter.same(image, confirmed):
            self._changed_to = None
            if self.standing.status is not ScheduleStatus.CONFIRMED:
                again = self.standing.status is not ScheduleStatus.UNKNOWN
                self._stand(ScheduleStatus.CONFIRMED, "read back")
                if again:
                    self._tell(
                        ScheduleEvent.CONFIRMED, f"has the confirmed schedule again: {self._held(image)}", changes=()
                    )
                clear_issue(self.hass, self.config_entry.entry_id, CHANGED)
            self._look_at_summer_time(confirmed)
        elif self._changed_to is None or not self.inverter.same(image, self._changed_to):
            self._changed_to = image
            self._tell_changed(confirmed, image)

    def _look_at_summer_time(self, confirmed: Image) -> None:
        """Tell when the house's clocks have changed and the inverter's has not: its windows act at other times of the house's day."""
        shift = self.ledger.confirmed_shift
        moved: Sequence[Change] = ()
        if shift is not None and shift != self.inverter.shift():
            with suppress(NoImage):
                moved = changes(self.inverter.schedule_of(confirmed, shift), self.inverter.schedule_of(confirmed))
        entry = self.config_entry
        if moved:
            raise_issue(self.hass, entry.entry_id, SUMMER_TIME, inverter=entry.title, changes=changes_text(moved))
        else:
            clear_issue(self.hass, entry.entry_id, SUMMER_TIME)

    def _tell_changed(self, confirmed: Image, image: Image) -> None:
        self._stand(ScheduleStatus.CHANGED_ELSEWHERE, "elsewhere")
        try:
            was, now = self.inverter.schedule_of(confirmed), self.inverter.schedule_of(image)
            found = changes(was, now)
            told, diary = changes_text(found), diary_text(was, now)
        except NoImage as fault:
            found, told, diary = (), str(fault), str(fault)
        self._tell(ScheduleEvent.CHANGED_ELSEWHERE, f"was changed elsewhere: {diary}", changes=found)
        raise_issue(self.hass, self.config_entry.entry_id, CHANGED, inverter=self.config_entry.title, changes=told)

    async def _settle(self, unfinished: Entry) -> None:
        """Decide a commit that could not be proven, or that a crash cut off. Without leave to write, only what is proven counts."""
        try:
            # Putting back wears the registers: where it does not succeed, it is tried again at the pace of slow polls.
            due = self.hass.loop.time() >= self._put_back_due
            verdict, image = await self.inverter.settle(unfinished, may_write=self.allow_control and due)
        except LineError:
            return
        if verdict is Verdict.MIXTURE:
            if due:
                self._put_back_due = self.hass.loop.time() + self._slow_seconds
            self._stand(ScheduleStatus.UNCONFIRMED, "unfinished commit")
            return
        clear_issue(self.hass, self.config_entry.entry_id, UNCERTAIN)
        if verdict is Verdict.FOREIGN:
            await self._confirm(unfinished.before)
            self._changed_to = image
            self._tell_changed(unfinished.before, image)
        elif verdict is Verdict.AFTER:
            await self._confirm(image, unfinished.before)
            self.last_failure = None
            self._stand(ScheduleStatus.CONFIRMED, "unfinished commit")
            self._tell(ScheduleEvent.CONFIRMED, f"has the new schedule after all: {self._held(image)}", changes=())
        else:
            await self._stays(image, "unfinished commit")
            held = self._held(image)
            self._tell(
                ScheduleEvent.RESTORED, f"has the earlier schedule again; the change did not take: {held}", changes=()
            )

    # ---- writing

    async def apply_schedule(self, request: ScheduleRequest, by: str) -> Receipt:
        """Check and commit a schedule. Raises as `Inverter.apply` does."""
        return await self._committed(self.inverter.apply(request), by)

    async def edit_schedule(self, change: Callable[[Schedule], Schedule], by: str) -> Receipt:
        """Commit the inverter's schedule with one change. Raises as `Inverter.edit` does."""
        return await self._committed(self.inverter.edit(change), by)

    async def restore_schedule(self, by: str) -> Receipt:
        """Put back what the inverter held before the last commit. Raises NothingBefore, and as `Inverter.apply` does."""
        if self.ledger.previous is None:
            raise NothingBefore("nothing_before")
        return await self._committed(self._put(self.ledger.previous, self.ledger.previous_shift), by)

    async def put_back_schedule(self, by: str) -> Receipt:
        """Put back what was confirmed last and then changed elsewhere. Raises as `restore_schedule` does."""
        if self.ledger.confirmed is None:
            raise NothingBefore("nothing_confirmed")
        try:
            receipt = await self._committed(self._put(self.ledger.confirmed, self.ledger.confirmed_shift), by)
        except NotTaken, Uncertain:
            await self._count_put_back()
            raise
        if receipt.registers_written:
            await self._count_put_back()
        return receipt

    async def follow_summer_time(self, by: str) -> Receipt:
        """Let the windows act at the house's times again at which they were confirmed. Raises as `restore_schedule` does."""
        if self.ledger.confirmed is None:
            raise NothingBefore("nothing_confirmed")
        return await self._committed(self._put(self.ledger.confirmed, self.ledger.confirmed_shift), by)

    def _put(self, image: Image, shift: int | None) -> Awaitable[Committed]:
        """Commit an image that this inverter held before; since a change of summer time, what it was in the house's time."""
        if shift is None or shift == self.inverter.shift():
            return self.inverter.put_image(image)
        schedule = self.inverter.schedule_of(image, shift)
        return self.inverter.edit(lambda _held: schedule)

    async def keep_schedule(self, by: str) -> Schedule:
        """Take what the inverter holds now for what is wanted, and answer with it. Raises NotSupported, NoImage, LineError."""
        image = await self.inverter.read_image()
        kept = self.inverter.schedule_of(image)
        await self._confirm(image)
        self._changed_to = None
        self.last_failure = None
        self._stand(ScheduleStatus.CONFIRMED, by)
        for kind in (UNCERTAIN, CHANGED, SUMMER_TIME):
            clear_issue(self.hass, self.config_entry.entry_id, kind)
        told = f"keeps the schedule that was found on it: {schedule_text(kept)}, asked by {by}"
        self._tell(ScheduleEvent.CONFIRMED, told, changes=())
        return kept

    async def _committed(self, work: Awaitable[Committed], by: str) -> Receipt:
        entry_id = self.config_entry.entry_id
        try:
            done = await work
        except NotTaken as fault:
            await self._stays(fault.image, by)
            kept = f"kept its earlier schedule: the change did not take ({fault}), asked by {by}"
            self._tell(ScheduleEvent.RESTORED, kept, changes=())
            raise
        except Uncertain as fault:
            self._stand(ScheduleStatus.UNCONFIRMED, by)
            unsure = f"may hold either schedule or a mixture: {fault}, asked by {by}"
            self._tell(ScheduleEvent.UNCERTAIN, unsure, changes=())
            raise_issue(self.hass, entry_id, UNCERTAIN, inverter=self.config_entry.title, reason=str(fault))
            raise
        changed = done.receipt.registers_written > 0
        await self._confirm(done.image, done.before if changed else None)
        self._changed_to = None
        self.last_failure = None
        self._stand(ScheduleStatus.CONFIRMED, by)
        for kind in (UNCERTAIN, CHANGED, SUMMER_TIME):
            clear_issue(self.hass, entry_id, kind)
        self.async_set_updated_data(
            replace(self.data, schedule=done.schedule, values={**self.data.values, **self._arming(done.image)})
        )
        if changed:
            told = f"{self._became(done)}, confirmed in {done.receipt.seconds:.1f} s, asked by {by}"
            self._tell(ScheduleEvent.CONFIRMED, f"has a new schedule: {told}", changes=done.receipt.changes)
            self._count_commit(by)
        return done.receipt

    async def _confirm(self, image: Image, previous: Image | None = None) -> None:
        await self.ledger.confirm(image, previous, shift=self.inverter.shift())

    async def _stays(self, image: Image, by: str) -> None:
        """After a change that did not take: what is there again is confirmed, unless another hand had put it there."""
        confirmed = self.ledger.confirmed
        if confirmed is None or self.inverter.same(image, confirmed):
            await self._confirm(image)
            self._stand(ScheduleStatus.CONFIRMED, by)
            return
        await self.ledger.clear()
        if self.standing.status is not ScheduleStatus.CHANGED_ELSEWHERE:
            # Not told yet; the next poll does.
            self._changed_to = None

    def _became(self, done: Committed) -> str:
        try:
            return diary_text(self.inverter.schedule_of(done.before), done.schedule)
        except NoImage as fault:
            return f"{schedule_text(done.schedule)} (was no schedule: {fault})"

    def _held(self, image: Image) -> str:
        try:
            return schedule_text(self.inverter.schedule_of(image))
        except NoImage as fault:
            return str(fault)

    def _count_written(self, registers: int) -> None:
        self.ledger.count(dt_util.now().date().isoformat(), registers=registers)

    def _count_commit(self, by: str) -> None:
        """Count what wears the registers out, and say who does it when it is too much."""
        day = dt_util.now().date().isoformat()
        if day != self.ledger.day:
            self._callers.clear()
        self.ledger.count(day, commits=1)
        self._callers[by] += 1
        if self.ledger.commits_today > MANY_COMMITS:
            most, times = self._callers.most_common(1)[0]
            raise_issue(
                self.hass,
                self.config_entry.entry_id,
                WEAR,
                inverter=self.config_entry.title,
                commits=str(self.ledger.commits_today),
                caller=most,
                times=str(times),
            )

    async def _count_put_back(self) -> None:
        await self.ledger.was_put_back(dt_util.now().date().isoformat())
        self.async_update_listeners()

    def _arming(self, image: Image) -> dict[str, ReadingValue]:
        """The control that arms the windows, as an image has it: its entity must not lag behind the schedule."""
        points = self.inverter.map.schedule
        if points is None or points.armed_by is None or points.armed_by.control.key not in self.data.values:
            return {}
        control = points.armed_by.control
        return {control.key: control.decode(image)}

    def _stand(self, status: ScheduleStatus, by: str) -> None:
        self.standing = Standing(status=status, since=dt_util.utcnow(), by=by)
        self.async_update_listeners()

    @callback
    def take_control_value(self, key: str, value: ReadingValue) -> None:
        """Show a control's value that was just read back, without waiting for the next slow poll."""
        self.async_set_updated_data(replace(self.data, values={**self.data.values, key: value}))

    @property
    def plan(self) -> Mapping[str, Any] | None:
        """What `plan_charge` answered last; None before the first, and once the time that it was for is over."""
        return self.nights.plan(dt_util.utcnow())

    @callback
    def take_failure(self, failure: Failure) -> None:
        """Show why a change of the schedule was refused or failed."""
        self.last_failure = failure
        self.async_update_listeners()

    @callback
    def take_plan(self, plan: Mapping[str, Any], until: datetime, night: Night) -> None:
        """Show a plan that was just made for a time until an aware moment, and keep its night."""
        self.nights.take(plan, until, night)
        self.async_update_listeners()

    @callback
    def take_clock(self, before: float, after: float, by: str) -> None:
        """Show the clock's offset that was read after setting it, and tell the logbook."""
        self.async_set_updated_data(replace(self.data, clock_offset=after))
        self._tell_clock(before, after, by)

    def _tell_clock(self, before: float, after: float, by: str) -> None:
        self.hass.bus.async_fire(
            EVENT_CLOCK,
            {
                "inverter": self.config_entry.title,
                "entity_id": self._entity_id("sensor", "clock_offset"),
                "message": f"had its clock set: {clock_text(before, after)}, asked by {by}",
            },
        )

    # ---- events

    @callback
    def on_event(self, listener: Callable[[ScheduleEvent, dict[str, object]], None]) -> Callable[[], None]:
        """Call `listener` when something happens to the schedule; answers with how to stop that."""
        self._event_listeners.append(listener)
        return lambda: self._event_listeners.remove(listener)

    def _tell(self, event: ScheduleEvent, message: str, *, changes: Sequence[Change]) -> None:
        """Tell what happened: to the event entity with what changed, and in words to the logbook."""
        details: dict[str, object] = {"message": message, "changes": [asdict(change) for change in changes]}
        for listener in list(self._event_listeners):
            listener(event, details)
        entity_id = self._entity_id("event", "schedule_event")
        self.hass.bus.async_fire(
            EVENT_SCHEDULE,
            {"inverter": self.config_entry.title, "entity_id": entity_id, "type": str(event), **details},
        )

    def _entity_id(self, platform: str, key: str) -> str | None:
        return er.async_get(self.hass).async_get_entity_id(platform, DOMAIN, f"{self.config_entry.unique_id}_{key}")
