"""One inverter: a register map on a line. The only place where the two meet, and the only way in for writes."""

import asyncio
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta, tzinfo

from .line import Line, LineCounts, LineError, Lost, NoAnswer, NoConnection
from .polling import Polled, PollPlan, places
from .registers import (
    Address,
    Batch,
    Clock,
    LineCost,
    Poll,
    Raw,
    RegisterMap,
    SchedulePoints,
    Value,
    batches,
)
from .schedule import clock as clock_time
from .schedule.commit import CommitRules, NotTaken, Patience, Uncertain, commit, put_back
from .schedule.frames import Frame, frames
from .schedule.image import Image, Masks, NoImage, bits_of, holds, masks_of, read_schedule, upon, write_schedule
from .schedule.journal import Entry, Journal, Verdict, judge
from .schedule.protection import Battery, protect
from .schedule.receipt import Outcome, Receipt
from .schedule.request import Adjustment, Rejected, ScheduleRequest, check, check_edit
from .schedule.stages import Stages, one_frame_stages, schedule_stages
from .schedule.windows import Schedule, changes
from .snapshot import CLOCK, SCHEDULE

CLOCK_SET_WITHIN = 2.0
"""Seconds that a clock may be off right after it was set."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Committed:
    """A commit that is proven: the receipt for the user, and what the inverter now holds."""

    receipt: Receipt
    before: Image
    schedule: Schedule
    image: Image
    shift: int
    """Minutes that the inverter's clock is meant to be ahead of the house's: one figure for the whole commit."""


BATTERY = {
    "voltage": "battery_voltage",
    "charge_current_limit": "battery_charge_current_limit",
    "temperature": "battery_temperature",
}
"""Readings that a commit asks for, by what they are to it."""

type Wanted = Callable[[Schedule, Battery, int], tuple[Schedule, tuple[Adjustment, ...]]]
"""From the schedule held, what the battery tells and the clocks' shift to the schedule wanted and what was adjusted; raises Rejected."""

type WantedImage = Callable[[Schedule, Image, Battery, int], tuple[Image, tuple[Adjustment, ...]]]
"""The same from and to images."""


class NotSupported(Exception):
    """The register map names nothing for this: it has no schedule, or no clock."""

    def __init__(self, what: str) -> None:
        """Keep what is missing: `schedule` or `clock`."""
        super().__init__(what)
        self.what = what


class _Registers:
    """Some holding registers of one inverter, read and written as a commit does it."""

    def __init__(self, inverter: Inverter, addresses: Iterable[Address], counts: LineCounts) -> None:
        self._inverter = inverter
        self._addresses = tuple(addresses)
        self._batches = inverter.batches([[address] for address in self._addresses])
        self._counts = counts
        self.registers_read = 0

    async def read(self) -> Image:
        raw: dict[Address, int] = {}
        for batch in self._batches:
            raw |= await self._inverter.read_batch(batch, urgent=True, counts=self._counts)
        self.registers_read = sum(batch.count for batch in self._batches)
        # A batch runs across registers that are not the schedule's; the clock among them never stands still.
        return {address: raw[address] for address in self._addresses}

    async def write(self, frame: Frame) -> None:
        await self._inverter.write_frame(frame, self._counts)


def _protected(
    points: SchedulePoints, held: Schedule, schedule: Schedule, battery: Battery, adjusted: tuple[Adjustment, ...]
) -> tuple[Schedule, tuple[Adjustment, ...]]:
    """A schedule within what the battery allows. Raises Rejected."""
    protected = protect(points, held, schedule, battery)
    if protected.reasons:
        raise Rejected(protected.reasons)
    return protected.schedule, adjusted + protected.adjusted


class Inverter:
    """Reads and writes one inverter as its register map says. Line faults raise LineError."""

    def __init__(
        self,
        register_map: RegisterMap,
        line: Line,
        zone: tzinfo,
        now: Callable[[], datetime] = lambda: datetime.now(UTC),
        journal: Journal | None = None,
    ) -> None:
        """`zone` is the house's time zone; `now` answers with an aware time."""
        self.map = register_map
        self.line = line
        self.zone = zone
        self.patience: Patience | None = None
        """How patient commits are; None: as the map's settle time has it."""

        self._now = now
        self.journal = journal
        """Where a commit is written down before its first write; None: nowhere."""

        self.on_written: Callable[[int], None] | None = None
        """Told how many registers each write request carries."""

        # An adapter's speed is known; behind a gateway the usual one is taken for it.
        self._cost = LineCost(baud=line.gateway.endpoint.baud)
        self._writes = 0
        self._closed = False
        self._writing = asyncio.Lock()
        self._seconds: dict[Batch, float] = {}
        """Time on the line that each batch took last."""

        self._plans: dict[tuple[frozenset[str], frozenset[Poll]], PollPlan] = {}

    # ---- reading

    def batches(self, groups: Iterable[Sequence[Address]]) -> tuple[Batch, ...]:
        """The cheapest reads that cover these groups of registers."""
        return batches(groups, self.map.line, self._cost)

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
        for batch in self.batches([item.point.addresses for item in identity]):
            raw |= await self.read_batch(batch)
        return {item.key: item.point.decode(raw) for item in identity}

    def fits(self, identity: Mapping[str, Value | None]) -> bool:
        """Whether what was read is what the map expects of its inverter."""
        return all(not item.expect or identity.get(item.key) in item.expect for item in self.map.identity)

    async def poll(self, keys: Collection[str], rates: Collection[Poll], *, silent_for: int = 0) -> Polled:
        """Read what is wanted of the given rates. A batch that fails leaves its values out, not the poll.

        An inverter that was silent for some polls in a row is first asked once, a different batch each time: where that is not
        answered the poll is over, so that it costs the others on its gateway one time-out. Raises LineError only when nothing at
        all could be read.
        """
        plan = self._plan(keys, rates)
        writes = -1 if self._writing.locked() else self._writes
        failure: LineError | None = None
        clock_read: datetime | None = None
        lost = set[Batch]()
        at = silent_for % len(plan.batches) if plan.batches else 0
        doubted = silent_for > 0
        for batch in plan.batches[at:] + plan.batches[:at]:
            started = self._now() if plan.brings(batch, CLOCK) else None
            try:
                registers = await self._read(batch, retries=0 if doubted else None)
            except LineError as error:
                if doubted and isinstance(error, NoAnswer):
                    raise
                failure = error
                lost.add(batch)
                continue
            doubted = False
            plan.take(batch, registers)
            if started is not None:
                clock_read = started + (self._now() - started) / 2
        if failure is not None and len(lost) == len(plan.batches):
            raise failure
        missed = plan.missed(lost) if lost else frozenset[str]()
        schedule, image = self._schedule(plan.raw) if plan.shows(SCHEDULE, missed) else (None, None)
        return Polled(
            writes=writes,
            asked=plan.keys,
            values=plan.values(missed),
            missed=missed,
            failure=failure,
            schedule=schedule,
            image=image,
            clock_offset=None if clock_read is None or CLOCK in missed else self._offset(plan.raw, clock_read),
        )

    def undisturbed(self, polled: Polled) -> Polled:
        """What a poll brought, without what a change may have written meanwhile: half a schedule, or a control as it was before."""
        if polled.writes == self._writes and not self._writing.locked():
            return polled
        values = {key: value for key, value in polled.values.items() if key not in self.map.controls}
        return replace(polled, values=values, schedule=None, image=None)

    @property
    def changing(self) -> bool:
        """Whether a change is at work."""
        return self._writing.locked()

    async def close(self) -> None:
        """Wait for the change that is at work, and begin no other: the connection is about to go."""
        async with self._writing:
            self._closed = True

    def all_keys(self) -> frozenset[str]:
        """Everything that can be polled."""
        return frozenset(places(self.map))

    def poll_seconds(self, keys: Collection[str], rate: Poll) -> float:
        """Time on the line of one poll of this rate, in s: as measured, or as far as is known."""
        # What was not read yet is reckoned by the line's arithmetic, corrected by how this line does against it elsewhere.
        reckoned = sum(self._cost.seconds(batch.count) for batch in self._seconds)
        factor = sum(self._seconds.values()) / reckoned if reckoned else 1.0
        batches_of_one = self._plan(keys, {rate}).batches
        return sum(self._seconds.get(batch, self._cost.seconds(batch.count) * factor) for batch in batches_of_one)

    async def read_schedule(self) -> Schedule:
        """Read the schedule now. Raises NotSupported, NoImage, LineError."""
        async with self._writing:
            image = await self._schedule_registers(LineCounts()).read()
            return self.schedule_of(image)

    async def read_clock(self) -> float:
        """Seconds that the inverter's clock is ahead of the house's, read now and corrected for the round trip."""
        clock = self._clock()
        raw: dict[Address, int] = {}
        started = self._now()
        for batch in self.batches([clock.point.addresses]):
            raw |= await self.read_batch(batch, urgent=True)
        offset = self._offset(raw, started + (self._now() - started) / 2)
        if offset is None:
            raise NoImage("the clock's registers hold no time")
        return offset

    # ---- writing

    async def write_frame(self, frame: Frame, counts: LineCounts | None = None) -> None:
        """Send one write request. Everything that is ever written passes here."""
        if self.on_written is not None:
            self.on_written(len(frame.values))
        await self.line.write(frame.first, frame.values, function=self.map.line.write_function, counts=counts)

    async def apply(self, request: ScheduleRequest) -> Committed:
        """Check a request and commit it. Raises Rejected, NotSafely, LineError before any write; NotTaken, Uncertain after."""
        points = self._points()

        def wanted(held: Schedule, battery: Battery, shift: int) -> tuple[Schedule, tuple[Adjustment, ...]]:
            checked = check(points, held, request, shift=shift, voltage=battery.voltage)
            if request.override:
                return checked.schedule, checked.adjusted
            return _protected(points, held, checked.schedule, battery, checked.adjusted)

        return await self._commit(wanted)

    async def edit(self, change: Callable[[Schedule], Schedule]) -> Committed:
        """Commit the schedule that the inverter holds with one change. Raises as `apply` does."""
        points = self._points()

        def wanted(held: Schedule, battery: Battery, shift: int) -> tuple[Schedule, tuple[Adjustment, ...]]:
            return _protected(points, held, check_edit(points, held, change(held), shift=shift), battery, ())

        return await self._commit(wanted)

    async def put_image(self, target: Image) -> Committed:
        """Commit an image that this inverter held before, as far as the map still names its registers. Raises as `apply` does."""

        def wanted(
            _held: Schedule, before: Image, _battery: Battery, _shift: int
        ) -> tuple[Image, tuple[Adjustment, ...]]:
            named = {address: target.get(address, value) for address, value in before.items()}
            return upon(named, before, masks_of(self._points())), ()

        return await self._commit_image(wanted, asks_battery=False)

    async def read_image(self) -> Image:
        """Read the schedule's registers now. Raises NotSupported, LineError."""
        async with self._writing:
            return await self._schedule_registers(LineCounts()).read()

    async def settle(self, entry: Entry, *, may_write: bool) -> tuple[Verdict, Image] | None:
        """Decide an unfinished commit by what is there now; half of it is put back to what was before.

        Answers with the verdict (MIXTURE when putting back has not succeeded yet) and what the inverter holds; None when it was
        finished meanwhile, since its commit was only under way. Raises LineError.
        """
        async with self._writing:
            if self.journal is not None and self.journal.unfinished != entry:
                return None
            self._begin()
            registers = self._schedule_registers(LineCounts())
            image = await registers.read()
            rules = self._schedule_rules()
            verdict = judge(entry, image, rules.masks)
            if verdict is Verdict.MIXTURE and may_write:
                held = await put_back(registers, image, entry.before, rules)
                if held is not None and holds(held, entry.before, rules.masks):
                    return Verdict.BEFORE, held
            return verdict, image

    def same(self, image: Image, other: Image) -> bool:
        """Whether two images are the same schedule, whatever else their registers hold."""
        points = self._points()
        one, another = ({at: one[at] for at in points.addresses if at in one} for one in (image, other))
        return holds(one, another, masks_of(points))

    async def set_control(self, key: str, value: Value) -> Value:
        """Write one control; answers with what was read back. Raises ValueError, NotTaken, Uncertain, LineError before the write."""
        control = self.map.controls[key]
        addresses = control.point.addresses
        async with self._writing:
            self._begin()
            registers = _Registers(self, addresses, LineCounts())
            before = await registers.read()
            after = {**before, **control.encode(value, before)}
            stages = one_frame_stages(addresses, self._longest_write)
            taken = await commit(registers, before, after, self._rules(addresses, stages, bits_of([control.point])))
            shown = control.decode(taken.image)
            return value if shown is None else shown

    async def set_clock(self) -> tuple[float, float]:
        """Set the inverter's clock to the house's; answers with the offset before and after, in seconds.

        Raises NotTaken when the clock does not show the time written, within 2 s.
        """
        clock = self._clock()
        async with self._writing:
            self._begin()
            before = await self.read_clock()
            target = clock_time.inverter_time(clock.keeps, self._now(), self.zone)
            values = clock.point.encode(target.replace(microsecond=0))
            # Frames of the whole clock, whatever it shows now: half a time must not stand for long.
            other = {address: value ^ 1 for address, value in values.items()}
            for frame in frames(other, values, tuple(values), self._longest_write):
                await self.write_frame(frame)
            await asyncio.sleep(self.map.line.settle_ms / 1000)
            after = await self.read_clock()
        if abs(after) > CLOCK_SET_WITHIN:
            raise NotTaken(f"the clock is still {after:.0f} s off", {})
        return before, after

    # ---- inside

    def _begin(self) -> None:
        """A change begins; nothing has been sent yet. Raises NoConnection once the inverter was closed."""
        if self._closed:
            raise NoConnection(str(self.line.gateway.endpoint), Lost.CANNOT_CONNECT)
        self._writes += 1

    def shift(self) -> int:
        """Minutes the inverter's clock is meant to be ahead of the house's now."""
        if self.map.clock is None:
            return 0
        return clock_time.shift_minutes(self.map.clock.keeps, self._now(), self.zone)

    def schedule_of(self, image: Image, shift: int | None = None) -> Schedule:
        """What an image says in the house's time, now or when the inverter's clock was ahead by `shift` minutes. Raises NoImage."""
        return read_schedule(self._points(), image, self.shift() if shift is None else shift)

    async def _commit(self, wanted: Wanted) -> Committed:
        def image(held: Schedule, before: Image, battery: Battery, shift: int) -> tuple[Image, tuple[Adjustment, ...]]:
            schedule, adjusted = wanted(held, battery, shift)
            return write_schedule(self._points(), schedule, before, shift), adjusted

        return await self._commit_image(image, asks_battery=True)

    async def _commit_image(self, wanted: WantedImage, *, asks_battery: bool) -> Committed:
        loop = asyncio.get_running_loop()
        counts = LineCounts()
        async with self._writing:
            self._begin()
            started = loop.time()
            registers = self._schedule_registers(counts)
            seen = await registers.read()
            battery = await self._battery(counts) if asks_battery else Battery()
            before = await self._settled(registers, seen)
            # Once: summer time may change while the commit is at work.
            shift = self.shift()
            held = self.schedule_of(before, shift)
            after, adjusted = wanted(held, before, battery, shift)
            taken = await commit(registers, before, after, self._schedule_rules(), self.journal)
            now = self.schedule_of(taken.image, shift)
            receipt = Receipt(
                outcome=Outcome.CONFIRMED if taken.registers_written else Outcome.UNCHANGED,
                changes=changes(held, now),
                registers_written=taken.registers_written,
                registers_read_back=registers.registers_read if taken.registers_written else 0,
                reads=counts.reads,
                writes=counts.writes,
                retries=counts.retries,
                adjusted=adjusted,
                seconds=round(loop.time() - started, 3),
                at=self._now(),
            )
            return Committed(receipt=receipt, before=before, schedule=now, image=taken.image, shift=shift)

    async def _settled(self, registers: _Registers, seen: Image) -> Image:
        """What a commit starts from. Half of an earlier one is put back first: it must not pass for the earlier schedule.

        Raises Uncertain when that does not succeed; the earlier entry stays in the journal.
        """
        entry = None if self.journal is None else self.journal.unfinished
        rules = self._schedule_rules()
        if entry is None or judge(entry, seen, rules.masks) is not Verdict.MIXTURE:
            return seen
        held = await put_back(registers, seen, entry.before, rules)
        if held is None or not holds(held, entry.before, rules.masks):
            raise Uncertain("an earlier change is still unfinished, and could not be taken back", held)
        return held

    async def _battery(self, counts: LineCounts) -> Battery:
        """What the battery tells of itself now, as far as the map has it, or why it does not: not every change asks for it."""
        known = {field: self.map.readings[key] for field, key in BATTERY.items() if key in self.map.readings}
        raw: dict[Address, int] = {}
        try:
            for batch in self.batches([reading.point.addresses for reading in known.values()]):
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

    @property
    def _longest_write(self) -> int:
        return 1 if self.map.line.write_function == 6 else self.map.line.longest_write

    def _schedule_rules(self) -> CommitRules:
        points = self._points()
        return self._rules(points.addresses, schedule_stages(points, self._longest_write), masks_of(points))

    def _rules(self, named: Collection[Address], stages: Stages, masks: Masks) -> CommitRules:
        patience = self.patience or Patience(settle=self.map.line.settle_ms / 1000)
        return CommitRules(
            named=named, longest_write=self._longest_write, stages=stages, patience=patience, masks=masks
        )

    def _schedule_registers(self, counts: LineCounts) -> _Registers:
        return _Registers(self, self._points().addresses, counts)

    def _plan(self, keys: Collection[str], rates: Collection[Poll]) -> PollPlan:
        wanted = frozenset(keys), frozenset(rates)
        if wanted not in self._plans:
            self._plans[wanted] = PollPlan(self.map, *wanted, self._cost)
        return self._plans[wanted]

    def _schedule(self, raw: Raw) -> tuple[Schedule | None, Image | None]:
        image = {address: raw[address] for address in self._points().addresses}
        try:
            return self.schedule_of(image), image
        except NoImage:
            return None, image

    def _offset(self, raw: Raw, at: datetime) -> float | None:
        """Seconds that the clock is ahead; it shows whole seconds, so on average it is half a second further."""
        clock = self._clock()
        shown = clock.point.decode(raw)
        if shown is None:
            return None
        return clock_time.offset_seconds(shown + timedelta(seconds=0.5), clock.keeps, at, self.zone)

    def _points(self) -> SchedulePoints:
        if self.map.schedule is None:
            raise NotSupported(SCHEDULE)
        return self.map.schedule

    def _clock(self) -> Clock:
        if self.map.clock is None:
            raise NotSupported(CLOCK)
        return self.map.clock
