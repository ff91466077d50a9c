"""Reading one inverter: a register map on a line."""

from collections.abc import Callable, Collection, Mapping
from datetime import datetime, timedelta, tzinfo

from ..modbus import Line, LineCounts, LineError, NoAnswer, Refused
from ..registers import Batch, Poll, Raw, RegisterMap, Span, Value
from ..schedule import Battery, Image, NoTime, Schedule, offset_seconds, read_schedule, shift_minutes
from .change_state import ChangeState
from .polling import Polled, PollPlan, places
from .reads_of_others import ReadsOfOthers, Share, share
from .register_reads import RegisterReads
from .snapshot import CLOCK, SCHEDULE
from .supported import clock_points, schedule_points
from .words_apart import words_apart

BATTERY = {
    "voltage": "battery_voltage",
    "charge_current_limit": "battery_charge_current_limit",
    "temperature": "battery_temperature",
}
"""The fields of Battery, each with the key of its reading."""


class InverterReader:
    """Reads one inverter as its register map describes. Line faults raise LineError."""

    def __init__(
        self, register_map: RegisterMap, line: Line, zone: tzinfo, now: Callable[[], datetime], changes: ChangeState
    ) -> None:
        """Set up the reader. `zone` is Home Assistant's time zone, `now` returns an aware time, `changes` shows what is written."""
        self.zone = zone
        self._map = register_map
        self._line = line
        self._now = now
        self._changes = changes
        self.points = register_map.schedule
        """Where the schedule is kept, with the bounds of its limits as they were read last."""

        self.reads = RegisterReads(register_map, line, now)
        """How registers are read, and which of them the inverter does not have."""

        self.others: ReadsOfOthers | None = None
        """What another client reads through Chargehand; None: there is no such client."""

        self._plans: dict[tuple[frozenset[str], frozenset[Poll], frozenset[Span]], PollPlan] = {}
        self._planned_for = self.reads.holes.version
        self._apart = words_apart(register_map)

    # ---- reads

    async def identify(self) -> dict[str, Value | None]:
        """Read the values that identify the inverter, by the map's keys."""
        identity = self._map.identity
        raw = await self.reads.read_groups([group for item in identity for group in item.point.groups])
        return {item.key: item.point.decode(raw) for item in identity}

    def fits(self, identity: Mapping[str, Value | None]) -> bool:
        """Return whether an identity is one that the map expects."""
        return all(not item.expect or identity.get(item.key) in item.expect for item in self._map.identity)

    async def read_clock(self) -> float:
        """Read the clock, and return the seconds that it is ahead of Home Assistant's, corrected for the round trip."""
        clock = clock_points(self._map)
        started = self._now()
        raw = await self.reads.read_groups(clock.point.groups, urgent=True)
        offset = self._clock_offset(raw, started + (self._now() - started) / 2)
        if offset is None:
            raise NoTime
        return offset

    async def read_battery(self, counts: LineCounts) -> Battery:
        """Read the battery's voltage, current limit and temperature, as far as the map has them.

        A LineError is returned as the battery's `failure`, because not every change needs these values.
        """
        readings = {field: self._map.readings[key] for field, key in BATTERY.items() if key in self._map.readings}
        groups = [group for reading in readings.values() for group in reading.point.groups]
        try:
            raw = await self.reads.read_groups(groups, urgent=True, counts=counts)
        except LineError as failure:
            return Battery(failure=failure)
        values = {field: reading.decode(raw) for field, reading in readings.items()}
        numbers = {field: float(value) for field, value in values.items() if isinstance(value, int | float)}
        return Battery(
            voltage=numbers.get("voltage"),
            charge_current_limit=numbers.get("charge_current_limit"),
            temperature=numbers.get("temperature"),
        )

    # ---- polls

    async def poll(self, keys: Collection[str], rates: Collection[Poll], *, silent_for: int = 0) -> Polled:
        """Read those of `keys` that the map polls at one of `rates`. A read that is refused misses only its own values.

        A read without an answer ends the poll, so that a silent inverter costs the others on its gateway the time-outs of one read. If it
        was silent for the last `silent_for` polls, its first read is not retried. Readings that another client has read lately are
        taken from there where that saves time on the line. Raises LineError only if nothing could be read.
        """
        if self._map.presence is not None:
            await self.reads.look_for(self._map.presence, retries=0 if silent_for > 0 else None)
        plan = self._plan(keys, rates)
        version = self._changes.version()
        chosen = Share(batches=plan.batches) if version is None or silent_for else self._share(plan)
        failure: LineError | None = None
        clock_read: datetime | None = None
        read: list[Batch] = []

        def take(batch: Batch, registers: tuple[int, ...], at: datetime) -> None:
            nonlocal clock_read
            read.append(batch)
            plan.record_read(batch, registers)
            if plan.includes(batch, CLOCK):
                clock_read = at

        no_retries = silent_for > 0
        reported_silent = False
        for batch in plan.ordered(chosen.batches):
            try:
                await self.reads.read_around(batch, plan.groups, take, retries=0 if no_retries else None)
            except LineError as error:
                failure = error
                reported = isinstance(error, Refused) and error.unit_silent
                if not (reported or isinstance(error, NoAnswer)):
                    continue
                plan.record_silent(batch)
                # A gateway reports a silent unit after one attempt, so the first report may be due to a lost frame.
                if no_retries or reported_silent or not reported:
                    break
                reported_silent = True
                continue
            no_retries = reported_silent = False
        # Last, so that nothing read between other registers gives a value halves of two moments.
        plan.record_taken(chosen.taken)
        if failure is None and plan.refused:
            failure = self.reads.holes.refusal(frozenset[Span]().union(*plan.refused.values()))
        # Where everything else was taken, what the inverter does not have is no failure of the poll.
        if failure is not None and not read and (chosen.batches or not chosen.taken):
            raise failure
        missed = frozenset(plan.refused)
        if failure is not None:
            missed |= plan.keys_without(read, chosen.taken)
        schedule, image = self._schedule(plan.raw) if plan.has_read(SCHEDULE, missed) else (None, None)
        return Polled(
            keys=plan.keys,
            values=plan.values(missed),
            missed=missed,
            failure=failure,
            schedule=schedule,
            image=image,
            clock_offset=None if clock_read is None or CLOCK in missed else self._clock_offset(plan.raw, clock_read),
            controls=self._map.controls.keys(),
            changes=self._changes,
            version=version,
        )

    def all_keys(self) -> frozenset[str]:
        """Return the keys of everything that can be polled."""
        return frozenset(places(self._map))

    def poll_seconds(self, keys: Collection[str], rate: Poll) -> float:
        """Return the time on the line of one poll at this rate in seconds, measured as far as possible."""
        presence = self._map.presence if rate is Poll.FAST else None
        looks = () if presence is None else (Batch(*presence, 1),)
        return self.reads.seconds((*looks, *self._plan(keys, {rate}).batches))

    def _plan(self, keys: Collection[str], rates: Collection[Poll]) -> PollPlan:
        if self._planned_for != self.reads.holes.version:
            self._plans.clear()
            self._planned_for = self.reads.holes.version
        wanted = frozenset(keys), frozenset(rates), self.reads.holes.skipped()
        if wanted not in self._plans:
            self._plans[wanted] = PollPlan(
                self._map, *wanted[:2], self.reads.batches, skipped=wanted[2], apart=self._apart
            )
        return self._plans[wanted]

    def _share(self, plan: PollPlan) -> Share:
        """Return what a poll reads itself, and what it takes from another client's reads."""
        if self.others is None:
            return Share(batches=plan.batches)
        seconds = self.reads.calculated_seconds
        return share(plan.batches, plan.takeable, self.others, without=plan.batches_without, seconds=seconds)

    # ---- what registers mean

    def shift(self) -> int:
        """Return the minutes that the inverter's clock should be ahead of Home Assistant's now."""
        if self._map.clock is None:
            return 0
        return shift_minutes(self._map.clock.keeps, self._now(), self.zone)

    def schedule_of(self, image: Image, shift: int | None = None) -> Schedule:
        """Return the schedule of an image in Home Assistant's time. `shift` is that of the image's time; None: of now."""
        return read_schedule(schedule_points(self._map), image, self.shift() if shift is None else shift)

    def _schedule(self, raw: Raw) -> tuple[Schedule, Image]:
        points = schedule_points(self._map)
        image = {address: raw[address] for group in points.groups for address in group}
        self.points = points.known(image)
        return self.schedule_of(image), image

    def _clock_offset(self, raw: Raw, at: datetime) -> float | None:
        """Return the seconds that the clock is ahead. It shows whole seconds, so on average it is half a second further."""
        clock = clock_points(self._map)
        shown = clock.point.decode(raw)
        if shown is None:
            return None
        return offset_seconds(shown + timedelta(seconds=0.5), clock.keeps, at, self.zone)
