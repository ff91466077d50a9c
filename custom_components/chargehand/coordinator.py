"""Polls one inverter for Home Assistant, and carries out what its users ask of it."""

import logging
from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

from homeassistant.config_entries import ConfigEntry
from homeassistant.core import CALLBACK_TYPE, HomeAssistant, callback
from homeassistant.helpers.update_coordinator import DataUpdateCoordinator, UpdateFailed
from homeassistant.util import dt as dt_util

from .changes import ActivityLog, Commits, Orders, ScheduleMonitor, Storage, shielded
from .connection import look_for_users
from .const import (
    CONF_ALLOW_CONTROL,
    CONF_FAST_SECONDS,
    CONF_SET_CLOCK_SECONDS,
    CONF_SLOW_SECONDS,
    DEFAULT_FAST_SECONDS,
    DEFAULT_SLOW_SECONDS,
    DOMAIN,
)
from .core.inverter import CLOCK, SCHEDULE, Inverter, Polled, ReadingValue, Snapshot, Subscriptions
from .core.modbus import LineError, Lost, NoConnection
from .core.registers import Poll
from .core.schedule import Committed, NoTime, NotTaken, Schedule, may_set_clock
from .messages import GATEWAY_TAKEN, TWO_MASTERS, clear_issue, line_fault, raise_issue
from .nights import Night, Nights, PastWindows, settle_nights

_LOGGER = logging.getLogger(__name__)

type ChargehandConfigEntry = ConfigEntry[ChargehandCoordinator]


type _Taken = tuple[frozenset[str], Mapping[str, ReadingValue], Mapping[str, ReadingValue]]
"""The keys wanted at a poll, the values that it brought, and those shown after it."""

POLLS_UNTIL_TOLD = 3
"""Polls in a row that the gateway dropped, from which the cause is named."""

FAILURES_UNTIL_TOLD = 3
"""Failed requests and damaged answers of the last minute, from which two masters on one bus are named."""


class ChargehandCoordinator(DataUpdateCoordinator[Snapshot]):
    """Reads what enabled entities need, fast and slow; the only one that entities and actions ask to write."""

    config_entry: ChargehandConfigEntry

    def __init__(self, hass: HomeAssistant, entry: ChargehandConfigEntry, inverter: Inverter, storage: Storage) -> None:
        """Poll `inverter` at the entry's intervals."""
        super().__init__(
            hass,
            _LOGGER,
            config_entry=entry,
            name=entry.title,
            update_interval=timedelta(seconds=entry.options.get(CONF_FAST_SECONDS, DEFAULT_FAST_SECONDS)),
        )
        self.inverter = inverter
        self.storage = storage
        self.allow_control = bool(entry.options.get(CONF_ALLOW_CONTROL, False))
        self.activity_log = ActivityLog(hass, entry)
        self.monitor = ScheduleMonitor(self.activity_log, inverter, storage, self.async_update_listeners)
        self.orders = Orders(hass, entry.entry_id, self.async_update_listeners)
        self.commits = Commits(self.monitor, self.orders, self._take_committed)
        self.past = PastWindows(hass, entry.entry_id)
        self.nights = Nights(hass, entry.entry_id)
        self.offered: dict[str, frozenset[str]] = {}
        """By platform, the unique ids of all entities that the map and the options have now, once it has set all of them up."""

        self.data = Snapshot()
        self._slow_seconds = float(entry.options.get(CONF_SLOW_SECONDS, DEFAULT_SLOW_SECONDS))
        self._slow_due = 0.0
        self._read_slow: frozenset[str] = frozenset()
        self._once_missed: set[str] = set()
        self._missed: dict[str, int] = {}
        self._taken: _Taken = frozenset(), {}, {}
        self._interested: Subscriptions | None = None
        self._wanted: frozenset[str] | None = None
        self._complete = False
        self._told: tuple[bool, Snapshot] | None = None
        self._failed_polls = 0

    # ---- what outlives a restart

    async def _async_setup(self) -> None:
        """Read what is kept of orders, windows and nights."""
        await self.orders.load()
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
        if not wanted <= self._read_slow or (slow and self._once_missed):
            rates.add(Poll.ONCE)
        try:
            polled = await self.inverter.poll(wanted, rates, silent_for=self._failed_polls)
        except LineError as error:
            self._failed_polls += 1
            self._look_at_line(error)
            if self._failed_polls < 2 and self.last_update_success and self.data.read_at is not None:
                return self.data
            self._slow_due = 0.0
            if not self.last_update_success:
                # The platform tells nobody of a failure that goes on; what is known of the line and the plan changes still.
                self.async_update_listeners()
            key, values = line_fault(self.inverter.line, error)
            raise UpdateFailed(
                translation_domain=DOMAIN, translation_key=key, translation_placeholders=dict(values)
            ) from error
        self._failed_polls = 0
        self._look_at_line(polled.failure)
        if slow:
            self._slow_due = now + self._slow_seconds
            self._read_slow = wanted
        if Poll.ONCE in rates:
            readings = self.inverter.map.readings
            self._once_missed = {key for key in polled.missed if key in readings and readings[key].poll is Poll.ONCE}
        if polled.clock_offset is not None:
            polled = replace(polled, clock_offset=await self._kept_right(polled.schedule, polled.clock_offset))
        if self.storage.unfinished is not None and not self.inverter.changing:
            # Home Assistant cancels a poll when it stops, which must not leave half put back.
            await shielded(self.hass, self.monitor.settle(may_write=self.allow_control, again_after=self._slow_seconds))
            if self.storage.unfinished is None:
                self._slow_due = 0.0
        # Nothing is waited for from here on: what a commit has shown meanwhile stays.
        known = self.inverter.undisturbed(polled)
        if slow and known is not polled:
            # What could not be told from this poll is read again at the next.
            self._slow_due = 0.0
        polled = known
        if self.storage.unfinished is None and polled.image is not None:
            self.monitor.look(polled.image)
        return self._merged(wanted, polled)

    async def _kept_right(self, schedule: Schedule | None, offset: float) -> float:
        """Set the clock when it is further off than the user lets it be: at most once a day, and never near a window's edge.

        Answers with its offset then.
        """
        most = self.config_entry.options.get(CONF_SET_CLOCK_SECONDS, 0)
        now = dt_util.now()
        today = now.date().isoformat()
        if not (self.allow_control and most and abs(offset) > most and self.storage.clock_set_on != today):
            return offset
        if not may_set_clock(schedule, now, offset, self.inverter.zone):
            return offset
        # Also a try that fails was one of the day: a clock that does not take the time is not written every minute.
        await self.storage.clock_was_set(today)
        try:
            before, after = await shielded(self.hass, self.inverter.set_clock())
        except (LineError, NotTaken, NoTime) as fault:
            _LOGGER.warning("The clock of %s could not be set: %s", self.config_entry.title, fault)
            return offset
        self.activity_log.tell_clock(before, after, "its options")
        return after

    def _look_at_line(self, failure: LineError | None) -> None:
        """Name what is wrong with the line where its failures have a known cause that only the user can cure."""
        gateway = self.inverter.line.gateway
        entry = self.config_entry
        now = self.hass.loop.time()
        look_for_users(self.hass, entry.entry_id, gateway)
        dropped = isinstance(failure, NoConnection) and failure.lost is Lost.DROPPED
        if dropped and self._failed_polls >= POLLS_UNTIL_TOLD:
            raise_issue(self.hass, entry.entry_id, GATEWAY_TAKEN, gateway=str(gateway.endpoint))
        elif failure is None:
            clear_issue(self.hass, entry.entry_id, GATEWAY_TAKEN)
        # A queueing gateway sends a client its own answers only: what comes unasked is another master's traffic.
        unsolicited = gateway.health.unsolicited_bytes(now)
        failed = gateway.health.errors(now) + gateway.health.damaged(now)
        if unsolicited and failed >= FAILURES_UNTIL_TOLD:
            raise_issue(
                self.hass,
                entry.entry_id,
                TWO_MASTERS,
                gateway=str(gateway.endpoint),
                errors=str(failed),
                bytes=str(unsolicited),
            )
        elif not unsolicited:
            clear_issue(self.hass, entry.entry_id, TWO_MASTERS)

    @callback
    def async_update_listeners(self) -> None:
        """Tell those that look at something which is not as it was when they were told before."""
        before, self._told = self._told, (self.last_update_success, self.data)
        if before is None or before[0] is not self.last_update_success:
            super().async_update_listeners()
            return
        for tell in self._listening.those(self.data.differs(before[1])):
            try:
                tell()
            except Exception:
                # As the platform has it: one that fails keeps neither the others from being told nor the next poll from coming.
                _LOGGER.exception("Unexpected error telling of a poll of %s", self.name)

    @callback
    def async_add_listener(self, update_callback: CALLBACK_TYPE, context: Any = None) -> Callable[[], None]:
        """Also forget who needs what; the context is a Subscription."""
        self._interested = self._wanted = None
        remove = super().async_add_listener(update_callback, context)

        @callback
        def removed() -> None:
            self._interested = self._wanted = None
            remove()

        return removed

    @property
    def _listening(self) -> Subscriptions:
        if self._interested is None:
            self._interested = Subscriptions(self._listeners.values())
        return self._interested

    @callback
    def entities_added(self) -> None:
        """From now on read what is shown and no more: all entities are there."""
        self._complete = True
        self._wanted = None

    def wanted_keys(self) -> frozenset[str]:
        """Keys that some enabled entity shows, and what the schedule needs; all until the entities are there, which start with their values."""
        if self._wanted is None:
            every = self.inverter.all_keys()
            needs = self._listening.needs if self._complete else every
            self._wanted = (needs or every) | (every & {SCHEDULE, CLOCK})
        return self._wanted

    def _merged(self, wanted: frozenset[str], polled: Polled) -> Snapshot:
        """Values of this poll over those before; a value whose read failed twice in a row is left out."""
        for key in polled.missed:
            self._missed[key] = self._missed.get(key, 0) + 1
        # What was not asked for this time was neither missed nor read: a slow reading keeps its count until it is due again.
        for key in [key for key in self._missed if key in polled.asked and key not in polled.missed]:
            del self._missed[key]
        gone = {key for key, count in self._missed.items() if count > 1}
        before, brought, values = self._taken
        # Nothing new in this poll, nor in what is shown since the one before: two hundred values need not be gone through.
        if gone or before is not wanted or brought is not polled.values or values is not self.data.values:
            values = {**self.data.values, **polled.values}
            if gone or not values.keys() <= wanted:
                values = {key: value for key, value in values.items() if key in wanted and key not in gone}
            self._taken = wanted, polled.values, values
        snapshot = replace(self.data, values=values, read_at=dt_util.utcnow())
        if SCHEDULE in gone:
            snapshot = replace(snapshot, schedule=None)
        elif polled.schedule is not None:
            snapshot = replace(snapshot, schedule=polled.schedule)
        if CLOCK in gone:
            return replace(snapshot, clock_offset=None)
        return snapshot if polled.clock_offset is None else replace(snapshot, clock_offset=polled.clock_offset)

    # ---- what commits and actions have found

    def _take_committed(self, done: Committed) -> None:
        """Take a schedule that was just proven, and the control that arms it, which must not lag behind it. The status tells them."""
        values = self.data.values
        points = self.inverter.map.schedule
        if points is not None and points.armed_by is not None and points.armed_by.control.key in values:
            control = points.armed_by.control
            values = {**values, control.key: control.decode(done.image)}
        self.data = replace(self.data, schedule=done.schedule, values=values)

    @callback
    def take_control_value(self, key: str, value: ReadingValue) -> None:
        """Show a control's value that was just read back, without waiting for the next slow poll."""
        self.async_set_updated_data(replace(self.data, values={**self.data.values, key: value}))

    @property
    def plan(self) -> Mapping[str, Any] | None:
        """What `plan_charge` answered last; None before the first, and once the time that it was for is over."""
        return self.nights.plan(dt_util.utcnow())

    @callback
    def take_plan(self, plan: Mapping[str, Any], until: datetime, night: Night) -> None:
        """Show a plan that was just made for a time until an aware moment, and keep its night."""
        self.nights.take(plan, until, night)
        self.async_update_listeners()

    async def settle_nights(self) -> None:
        """Look at the meters for what came of the nights, and show it."""
        if await settle_nights(self.hass, self.config_entry.options, self.nights, self.past):
            self.async_update_listeners()

    @callback
    def take_clock(self, before: float, after: float, by: str) -> None:
        """Show the clock's offset that was read after setting it, and tell the logbook."""
        self.async_set_updated_data(replace(self.data, clock_offset=after))
        self.activity_log.tell_clock(before, after, by)
