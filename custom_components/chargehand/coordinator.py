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

from .changes import (
    ActivityLog,
    ClockKeeper,
    Commits,
    Drafts,
    Orders,
    ScheduleMonitor,
    StoppedCharge,
    Storage,
    shielded,
)
from .connection import MissingRegisters, name_causes
from .const import (
    CONF_ALLOW_CONTROL,
    CONF_FAST_SECONDS,
    CONF_SLOW_SECONDS,
    DEFAULT_FAST_SECONDS,
    DEFAULT_SLOW_SECONDS,
    DOMAIN,
)
from .core.inverter import CLOCK, SCHEDULE, Inverter, KnownValues, PollRates, ReadingValue, Snapshot, Subscriptions
from .core.modbus import LineError
from .core.registers import Poll
from .core.schedule import Committed, Draft, Image, Schedule
from .data_logger import DataLogger
from .messages import line_fault
from .nights import Night, Nights, PastWindows, settle_nights
from .store import EntryStore

_LOGGER = logging.getLogger(__name__)

type ChargehandConfigEntry = ConfigEntry[ChargehandCoordinator]


class ChargehandCoordinator(DataUpdateCoordinator[Snapshot]):
    """Reads what enabled entities need, fast and slow; the only one that entities and actions ask to write."""

    config_entry: ChargehandConfigEntry

    def __init__(
        self, hass: HomeAssistant, entry: ChargehandConfigEntry, inverter: Inverter, store: EntryStore
    ) -> None:
        """Poll `inverter` at the entry's intervals."""
        super().__init__(
            hass,
            _LOGGER,
            config_entry=entry,
            name=entry.title,
            update_interval=timedelta(seconds=entry.options.get(CONF_FAST_SECONDS, DEFAULT_FAST_SECONDS)),
        )
        self.inverter = inverter
        self.store = store
        self.storage = Storage(store.section("changes"))
        self.allow_control = bool(entry.options.get(CONF_ALLOW_CONTROL, False))
        self.activity_log = ActivityLog(hass, entry)
        self.monitor = ScheduleMonitor(self.activity_log, inverter, self.storage, self.async_update_listeners)
        self.orders = Orders(hass, store.section("order"), self.async_update_listeners)
        self.drafts = drafts = Drafts(hass, store.section("draft"), inverter.map.schedule, self.async_update_listeners)
        may_write = self.allow_control
        self.commits = Commits(self.monitor, self.orders, drafts, self._take_committed, may_write=may_write)
        self.stopped_charge = StoppedCharge()
        self.past = PastWindows(store.section("windows"))
        self.nights = Nights(store.section("nights"))
        self.offered: dict[str, frozenset[str]] = {}
        """By platform, the unique ids of all entities that the map and the options have now, once it has set all of them up."""

        self.data = Snapshot()
        self.rates = PollRates(float(entry.options.get(CONF_SLOW_SECONDS, DEFAULT_SLOW_SECONDS)), inverter.map.readings)
        self.data_logger = DataLogger(entry, self.monitor, wrote=self.rates.slow_next, found=self._take_found)
        self._clock = ClockKeeper(hass, entry, inverter, self.storage, self.activity_log)
        self._missing = MissingRegisters(hass, entry.entry_id, entry.title, inverter.map, inverter.reader.reads.holes)
        self._known = KnownValues()
        self._subscribers: dict[object, tuple[CALLBACK_TYPE, object]] = {}
        self._subscriptions: Subscriptions | None = None
        self._wanted: frozenset[str] | None = None
        self._complete = False
        self._shown: tuple[bool, Snapshot, Draft | None] | None = None
        self._failed_polls = 0

    # ---- reading

    async def _async_update_data(self) -> Snapshot:
        """Read what is due. One poll that fails is forgiven; at the second the entities become unavailable."""
        now = self.hass.loop.time()
        wanted = self.wanted_keys()
        rates = self.rates.due(wanted, now)
        try:
            polled = await self.inverter.reader.poll(wanted, rates, silent_for=self._failed_polls)
        except LineError as error:
            return self._failed(error)
        self._failed_polls = 0
        self._name_causes(polled.failure)
        self.rates.record_poll(rates, wanted, polled.missed, now)
        if polled.clock_offset is not None:
            polled = replace(polled, clock_offset=await self._clock.keep(polled.schedule, polled.clock_offset))
        if self.storage.unfinished is not None and self.inverter.map.schedule and not self.inverter.changing:
            # Home Assistant cancels a poll when it stops, which must not leave half put back.
            settle = self.monitor.settle(may_write=self.allow_control, again_after=self.rates.slow_seconds)
            await shielded(self.hass, settle)
            if self.storage.unfinished is None:
                self.rates.slow_next()
        # Nothing is waited for from here on: what a commit has shown meanwhile stays.
        known = polled.without_overwritten()
        if Poll.SLOW in rates and known is not polled:
            # What this poll could not show is read again at the next.
            self.rates.slow_next()
        if self.storage.unfinished is None and known.image is not None:
            self.monitor.compare(known.image)
        self.stopped_charge.see(known.schedule)
        return self._known.after(self.data, wanted, known, dt_util.utcnow())

    def _failed(self, error: LineError) -> Snapshot:
        """Return what is known after a poll that failed. Raises UpdateFailed from the second failure in a row on."""
        self._failed_polls += 1
        self._name_causes(error)
        if self._failed_polls < 2 and self.last_update_success and self.data.read_at is not None:
            return self.data
        self.rates.slow_next()
        if not self.last_update_success:
            # The platform calls no listener while a failure goes on; what is known of the line and the plan still changes.
            self.async_update_listeners()
        key, values = line_fault(self.inverter.line, error)
        raise UpdateFailed(
            translation_domain=DOMAIN, translation_key=key, translation_placeholders=dict(values)
        ) from error

    def _name_causes(self, failure: LineError | None) -> None:
        name_causes(self.hass, self.config_entry.entry_id, self.inverter.line, failure, self._failed_polls)
        self._missing.tell()

    @callback
    def async_update_listeners(self) -> None:
        """Call the listeners that show something which is not as it was when they were called before.

        With 200 readings of which none is new, a poll takes a quarter of the processor time that calling every listener takes; with 20 new
        ones less than half (`python -m tests.benchmarks.poll_cpu`, with and without this method).
        """
        before, self._shown = self._shown, (self.last_update_success, self.data, self.drafts.draft)
        if before is None or before[0] is not self.last_update_success:
            super().async_update_listeners()
            return
        differ = self.data.differs(before[1]) | ({SCHEDULE} if self.drafts.draft is not before[2] else set())
        for listener in self._by_subscription.affected_by(differ):
            try:
                listener()
            except Exception:
                # As the platform has it: one that fails keeps neither the others from being called nor the next poll from coming.
                _LOGGER.exception("Unexpected error in a listener of %s", self.name)

    @callback
    def async_add_listener(self, update_callback: CALLBACK_TYPE, context: Any = None) -> Callable[[], None]:
        """Also keep who needs what; the context is a Subscription."""
        token = object()
        self._subscribers[token] = update_callback, context
        self._subscriptions = self._wanted = None
        remove = super().async_add_listener(update_callback, context)

        @callback
        def removed() -> None:
            del self._subscribers[token]
            self._subscriptions = self._wanted = None
            remove()

        return removed

    @property
    def _by_subscription(self) -> Subscriptions:
        if self._subscriptions is None:
            self._subscriptions = Subscriptions(self._subscribers.values())
        return self._subscriptions

    @callback
    def entities_added(self) -> None:
        """From now on read what is shown and no more: all entities are there."""
        self._complete = True
        self._wanted = None

    def wanted_keys(self) -> frozenset[str]:
        """Keys that some enabled entity shows, and what the schedule needs; all until the entities are there, which start with their values."""
        if self._wanted is None:
            every = self.inverter.reader.all_keys()
            needs = self._by_subscription.needs if self._complete else every
            self._wanted = (needs or every) | (every & {SCHEDULE, CLOCK})
        return self._wanted

    # ---- what commits and actions have found

    def _take_committed(self, done: Committed) -> None:
        """Take a schedule that was just proven. The status change calls the listeners."""
        self.data = self._with_schedule(done.schedule, done.image)

    @callback
    def _take_found(self, image: Image) -> None:
        """Show a schedule that was just read. The platform's own way would put off the next poll each time that the data logger writes."""
        self.data = self._with_schedule(self.inverter.schedule_of(image), image)
        self.async_update_listeners()

    def _with_schedule(self, schedule: Schedule, image: Image) -> Snapshot:
        """Return the snapshot with another schedule, and the control that arms it, which must not lag behind it."""
        self.stopped_charge.see(schedule)
        values = self.data.values
        points = self.inverter.map.schedule
        if points is not None and points.armed_by is not None and (control := points.armed_by.control).key in values:
            values = {**values, control.key: control.decode(image)}
        return replace(self.data, schedule=schedule, values=values)

    @callback
    def take_control_value(self, key: str, value: ReadingValue) -> None:
        """Show a control's value that was just read back, without waiting for the next slow poll."""
        self.async_set_updated_data(replace(self.data, values={**self.data.values, key: value}))

    @property
    def schedule_shown(self) -> Schedule | None:
        """What the entities of windows show: the draft while there is one, else what the inverter holds."""
        return self.drafts.shown(self.data.schedule)

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
        if await settle_nights(self.hass, self.config_entry, self.nights, self.past):
            self.async_update_listeners()

    @callback
    def take_clock(self, before: float, after: float, by: str) -> None:
        """Show the clock's offset that was read after setting it, and record it in the logbook."""
        self.async_set_updated_data(replace(self.data, clock_offset=after))
        self.activity_log.record_clock(before, after, by)
