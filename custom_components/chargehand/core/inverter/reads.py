"""What is read of one inverter: a register map on a line."""

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from datetime import UTC, datetime, timedelta, tzinfo
from functools import lru_cache

from ..modbus import Line, LineCounts, LineError, NoAnswer, Refused
from ..registers import Address, Batch, Clock, LineCost, Poll, Raw, RegisterMap, SchedulePoints, Value, batches
from ..schedule import Battery, Image, NoTime, Schedule, offset_seconds, read_schedule, shift_minutes
from .polling import Polled, PollPlan, places
from .snapshot import CLOCK, SCHEDULE

_known_batches = lru_cache(maxsize=64)(batches)
"""A commit asks for the same reads each time."""


BATTERY = {
    "voltage": "battery_voltage",
    "charge_current_limit": "battery_charge_current_limit",
    "temperature": "battery_temperature",
}
"""Readings that a commit asks for, by what they are to it."""


class NotSupported(Exception):
    """The register map names nothing for this: it has no schedule, or no clock."""

    def __init__(self, what: str) -> None:
        """Keep what is missing: `schedule` or `clock`."""
        super().__init__(what)
        self.what = what


class Reads:
    """Reads one inverter as its register map says. Line faults raise LineError."""

    def __init__(
        self,
        register_map: RegisterMap,
        line: Line,
        zone: tzinfo,
        now: Callable[[], datetime] = lambda: datetime.now(UTC),
    ) -> None:
        """`zone` is the house's time zone; `now` answers with an aware time."""
        self.map = register_map
        self.line = line
        self.zone = zone
        self._now = now
        # An adapter's speed is known; behind a gateway the usual one is taken for it.
        self._cost = LineCost(baud=line.gateway.endpoint.baud)
        self._seconds: dict[Batch, float] = {}
        """Time on the line that each batch took last."""

        self._plans: dict[tuple[frozenset[str], frozenset[Poll]], PollPlan] = {}

    def batches(self, groups: Iterable[Sequence[Address]]) -> tuple[Batch, ...]:
        """The cheapest reads that cover these groups of registers."""
        return _known_batches(tuple(map(tuple, groups)), self.map.line, self._cost)

    async def read_batch(
        self, batch: Batch, *, urgent: bool = False, counts: LineCounts | None = None
    ) -> dict[Address, int]:
        """Read one batch; answers with its registers by address."""
        registers = await self._read(batch, urgent=urgent, counts=counts)
        return {(batch.table, batch.first + index): value for index, value in enumerate(registers)}

    async def _read(
        self, batch: Batch, *, urgent: bool = False, counts: LineCounts | None = None, retries: int | None = None
    ) -> tuple[int, ...]:
        registers = await self.line.read(
            batch.table, batch.first, batch.count, urgent=urgent, counts=counts, retries=retries
        )
        self._seconds[batch] = self.line.last_seconds
        return registers

    async def identify(self) -> dict[str, Value | None]:
        """Read the identity that the map names."""
        identity = self.map.identity
        raw: dict[Address, int] = {}
        for batch in self.batches([group for item in identity for group in item.point.groups]):
            raw |= await self.read_batch(batch)
        return {item.key: item.point.decode(raw) for item in identity}

    def fits(self, identity: Mapping[str, Value | None]) -> bool:
        """Whether what was read is what the map expects of its inverter."""
        return all(not item.expect or identity.get(item.key) in item.expect for item in self.map.identity)

    async def poll(self, keys: Collection[str], rates: Collection[Poll], *, silent_for: int = 0) -> Polled:
        """Read what is wanted of the given rates. A batch that is refused leaves its values out, not the poll.

        A batch that is not answered ends the poll, so that a silent inverter costs the others on its gateway the time-outs of one
        read. One that was silent for some polls in a row is asked only once. Raises LineError only when nothing at all was read.
        """
        plan = self._plan(keys, rates)
        failure: LineError | None = None
        clock_read: datetime | None = None
        read = set[Batch]()
        doubted = silent_for > 0
        told_once = False
        for batch in plan.turns:
            started = self._now() if plan.brings(batch, CLOCK) else None
            try:
                registers = await self._read(batch, retries=0 if doubted else None)
            except LineError as error:
                failure = error
                told = isinstance(error, Refused) and error.unit_silent
                if not (told or isinstance(error, NoAnswer)):
                    continue
                plan.was_silent(batch)
                # A gateway tells of a silent unit after one try, so once may be a lost frame.
                if doubted or told_once or not told:
                    break
                told_once = True
                continue
            doubted = told_once = False
            read.add(batch)
            plan.take(batch, registers)
            if started is not None:
                clock_read = started + (self._now() - started) / 2
        if failure is not None and not read:
            raise failure
        lost = frozenset(plan.batches) - read
        missed = plan.missed(lost) if lost else frozenset[str]()
        schedule, image = self._schedule(plan.raw) if plan.shows(SCHEDULE, missed) else (None, None)
        return Polled(
            asked=plan.keys,
            values=plan.values(missed),
            missed=missed,
            failure=failure,
            schedule=schedule,
            image=image,
            clock_offset=None if clock_read is None or CLOCK in missed else self._offset(plan.raw, clock_read),
        )

    def all_keys(self) -> frozenset[str]:
        """Everything that can be polled."""
        return frozenset(places(self.map))

    def poll_seconds(self, keys: Collection[str], rate: Poll) -> float:
        """Time on the line of one poll of this rate, in s: as measured, or as far as is known."""
        # What was not read yet is calculated by the line's arithmetic, corrected by how this line does against it elsewhere.
        calculated = sum(self._cost.seconds(batch.count) for batch in self._seconds)
        factor = sum(self._seconds.values()) / calculated if calculated else 1.0
        batches_of_one = self._plan(keys, {rate}).batches
        return sum(self._seconds.get(batch, self._cost.seconds(batch.count) * factor) for batch in batches_of_one)

    async def read_clock(self) -> float:
        """Seconds that the inverter's clock is ahead of the house's, read now and corrected for the round trip."""
        clock = self._clock()
        raw: dict[Address, int] = {}
        started = self._now()
        for batch in self.batches(clock.point.groups):
            raw |= await self.read_batch(batch, urgent=True)
        offset = self._offset(raw, started + (self._now() - started) / 2)
        if offset is None:
            raise NoTime
        return offset

    async def read_battery(self, counts: LineCounts) -> Battery:
        """What the battery tells of itself now, as far as the map has it, or why it does not: not every change asks for it."""
        known = {field: self.map.readings[key] for field, key in BATTERY.items() if key in self.map.readings}
        raw: dict[Address, int] = {}
        try:
            for batch in self.batches([group for reading in known.values() for group in reading.point.groups]):
                raw |= await self.read_batch(batch, urgent=True, counts=counts)
        except LineError as failure:
            return Battery(failure=failure)
        values = {field: reading.decode(raw) for field, reading in known.items()}
        told = {field: float(value) for field, value in values.items() if isinstance(value, int | float)}
        return Battery(
            voltage=told.get("voltage"),
            charge_current_limit=told.get("charge_current_limit"),
            temperature=told.get("temperature"),
        )

    # ---- what registers say

    def shift(self) -> int:
        """Minutes the inverter's clock is meant to be ahead of the house's now."""
        if self.map.clock is None:
            return 0
        return shift_minutes(self.map.clock.keeps, self._now(), self.zone)

    def schedule_of(self, image: Image, shift: int | None = None) -> Schedule:
        """What an image says in the house's time, now or when the inverter's clock was ahead by `shift` minutes."""
        return read_schedule(self._points(), image, self.shift() if shift is None else shift)

    def _plan(self, keys: Collection[str], rates: Collection[Poll]) -> PollPlan:
        wanted = frozenset(keys), frozenset(rates)
        if wanted not in self._plans:
            self._plans[wanted] = PollPlan(self.map, *wanted, self._cost)
        return self._plans[wanted]

    def _schedule(self, raw: Raw) -> tuple[Schedule, Image]:
        image = {address: raw[address] for group in self._points().groups for address in group}
        return self.schedule_of(image), image

    def _offset(self, raw: Raw, at: datetime) -> float | None:
        """Seconds that the clock is ahead; it shows whole seconds, so on average it is half a second further."""
        clock = self._clock()
        shown = clock.point.decode(raw)
        if shown is None:
            return None
        return offset_seconds(shown + timedelta(seconds=0.5), clock.keeps, at, self.zone)

    def _points(self) -> SchedulePoints:
        if self.map.schedule is None:
            raise NotSupported(SCHEDULE)
        return self.map.schedule

    def _clock(self) -> Clock:
        if self.map.clock is None:
            raise NotSupported(CLOCK)
        return self.map.clock
