"""What is done to one inverter: the only way in for writes."""

import asyncio
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, tzinfo
from typing import override

from .line import Line, LineCounts, LineError, Lost, NoConnection
from .polling import Polled
from .reads import Reads
from .registers import Address, Batch, Group, Poll, RegisterMap, SchedulePoints, Value
from .schedule import clock as clock_time
from .schedule.commit import CommitRules, NotTaken, Patience, Uncertain, commit, put_back
from .schedule.frames import Frame, FrameRules, frames
from .schedule.image import Image, Masks, bits_of, holds, masks_of, read_schedule, upon, write_schedule
from .schedule.journal import Entry, Journal, Verdict, judge
from .schedule.protection import Battery, protect
from .schedule.receipt import Outcome, Receipt
from .schedule.request import Adjustment, Rejected, ScheduleRequest, check, check_edit
from .schedule.stages import Stages, one_frame_stages, schedule_stages
from .schedule.windows import Schedule, changes

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

type Wanted = Callable[[Image, Battery, int], tuple[Image, tuple[Adjustment, ...]]]
"""From the image held, what the battery tells and the clocks' shift to the image wanted and what was adjusted; raises Rejected."""


class ScaleMoved(LineError):
    """A power of ten is another than when the work began: what was written by it now means something else."""


class _Registers:
    """Some registers of one inverter, read and written as a commit does it. Those that are not `named` have to stay as they are."""

    def __init__(
        self, inverter: Inverter, groups: Sequence[Group], named: Collection[Address], counts: LineCounts
    ) -> None:
        self._inverter = inverter
        self._addresses = tuple(address for group in groups for address in group)
        self._batches = inverter.batches(groups)
        self._scales = tuple(address for address in self._addresses if address not in named)
        self._first: Image | None = None
        self._counts = counts
        self.registers_read = 0

    async def read(self) -> Image:
        """Read the whole image. Raises LineError."""
        self.registers_read = sum(batch.count for batch in self._batches)
        image = await self._read(self._batches, self._addresses)
        self._first = self._first or image
        if any(image[address] != self._first[address] for address in self._scales):
            raise ScaleMoved("the power of ten that it is kept with changed meanwhile")
        return image

    async def read_some(self, addresses: Collection[Address]) -> Image:
        """Read some of its registers. Raises LineError."""
        return await self._read(self._inverter.batches([(address,) for address in addresses]), addresses)

    async def _read(self, batches: Sequence[Batch], addresses: Collection[Address]) -> Image:
        raw: dict[Address, int] = {}
        for batch in batches:
            raw |= await self._inverter.read_batch(batch, urgent=True, counts=self._counts)
        # A batch runs across registers that are not the schedule's; the clock among them never stands still.
        return {address: raw[address] for address in addresses}

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


class Inverter(Reads):
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
        super().__init__(register_map, line, zone, now)
        self.patience: Patience | None = None
        """How patient commits are; None: as the map's settle time has it."""

        self.journal = journal
        """Where a commit is written down before its first write; None: nowhere."""

        self.on_written: Callable[[int], None] | None = None
        """Told how many registers each write request carries."""

        self._stages: tuple[FrameRules, Stages] | None = None
        """The schedule's, once they were asked for."""

        self._writes = 0
        """How many changes were begun."""

        self._closed = False
        self._writing = asyncio.Lock()

    # ---- reading beside changes

    @override
    async def poll(self, keys: Collection[str], rates: Collection[Poll], *, silent_for: int = 0) -> Polled:
        """Also keep whether a change was at work when the poll began."""
        writes = -1 if self._writing.locked() else self._writes
        return replace(await super().poll(keys, rates, silent_for=silent_for), writes=writes)

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

    async def read_schedule(self) -> Schedule:
        """Read the schedule now. Raises NotSupported, LineError."""
        async with self._writing:
            image = await self._schedule_registers(LineCounts()).read()
            return self.schedule_of(image)

    # ---- writing

    async def write_frame(self, frame: Frame, counts: LineCounts | None = None) -> None:
        """Send one write request. Everything that is ever written passes here. Raises ValueError for what the map does not let write."""
        if barred := set(frame.addresses) - self.map.writable:
            raise ValueError(f"register {min(barred)[1]} may not be written: no part of the map declares it")
        if self.on_written is not None:
            self.on_written(len(frame.values))
        if frame.mask is not None:
            await self.line.write_mask(frame.first, ~frame.mask & 0xFFFF, frame.values[0], counts=counts)
            return
        await self.line.write(frame.first, frame.values, function=self.map.line.write_function, counts=counts)

    async def apply(self, request: ScheduleRequest) -> Committed:
        """Check a request and commit it. Raises Rejected, NotSafely, LineError before any write; NotTaken, Uncertain after."""
        points = self._points()

        def wanted(before: Image, battery: Battery, shift: int) -> tuple[Image, tuple[Adjustment, ...]]:
            checked = check(points, before, request, shift=shift, voltage=battery.voltage)
            schedule, adjusted = checked.schedule, checked.adjusted
            if not request.override:
                held = read_schedule(points, before, shift)
                schedule, adjusted = _protected(points, held, schedule, battery, adjusted)
            return write_schedule(points, schedule, before, shift), adjusted

        return await self._commit(wanted, asks_battery=True)

    async def edit(self, change: Callable[[Schedule], Schedule]) -> Committed:
        """Commit the schedule that the inverter holds with one change. Raises as `apply` does."""
        points = self._points()

        def wanted(before: Image, battery: Battery, shift: int) -> tuple[Image, tuple[Adjustment, ...]]:
            held = read_schedule(points, before, shift)
            edited = check_edit(points, before, change(held), shift=shift)
            schedule, adjusted = _protected(points, held, edited, battery, ())
            return write_schedule(points, schedule, before, shift), adjusted

        return await self._commit(wanted, asks_battery=True)

    async def put_image(self, target: Image) -> Committed:
        """Commit an image that this inverter held before, as far as the map still names its registers. Raises as `apply` does."""

        def wanted(before: Image, _battery: Battery, _shift: int) -> tuple[Image, tuple[Adjustment, ...]]:
            named = {address: target.get(address, value) for address, value in before.items()}
            return upon(named, before, masks_of(self._points())), ()

        return await self._commit(wanted, asks_battery=False)

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
            seen = await registers.read()
            verdict, held = await self._decided(entry, registers, seen, may_write=may_write)
            return verdict, seen if held is None else held

    def same(self, image: Image, other: Image) -> bool:
        """Whether two images are the same schedule in all registers that both have, whatever else their registers hold.

        The map may have gained or lost windows since one of them was kept.
        """
        points = self._points()
        both = [at for at in points.addresses if at in image and at in other]
        one, another = ({at: held[at] for at in both} for held in (image, other))
        return bool(both) and holds(one, another, masks_of(points))

    async def set_control(self, key: str, value: Value) -> Value:
        """Write one control; answers with what was read back. Raises ValueError, NotTaken, Uncertain, LineError before the write."""
        return (await self.write_control(key, value))[0]

    async def write_control(self, key: str, value: Value) -> tuple[Value, Image]:
        """Write one control; answers with its value and its registers as they were read back. Raises as `set_control`."""
        control = self.map.controls[key]
        addresses = control.point.addresses
        async with self._writing:
            self._begin()
            registers = _Registers(self, control.point.groups, addresses, LineCounts())
            before = await registers.read()
            after = {**before, **control.encode(value, before)}
            rules = self._frame_rules(addresses, bits_of([control.point]))
            taken = await commit(registers, before, after, self._rules(rules, one_frame_stages(rules)))
            shown = control.decode(taken.image)
            return value if shown is None else shown, taken.image

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
            for frame in frames(other, values, self._frame_rules(tuple(values))):
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

    async def _commit(self, wanted: Wanted, *, asks_battery: bool) -> Committed:
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
            after, adjusted = wanted(before, battery, shift)
            taken = await commit(registers, before, after, self._schedule_rules(), self.journal, shift=shift)
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
        if entry is None:
            return seen
        verdict, held = await self._decided(entry, registers, seen, may_write=True)
        if held is None or verdict is Verdict.MIXTURE:
            raise Uncertain("an earlier change is still unfinished, and could not be taken back", held)
        return held

    async def _decided(
        self, entry: Entry, registers: _Registers, seen: Image, *, may_write: bool
    ) -> tuple[Verdict, Image | None]:
        """What an image, just read, makes of an unfinished commit; half of it is put back to what was before, where that is allowed.

        Answers with MIXTURE when half is there still; and with what the inverter holds, None when that could not be read again.
        """
        rules = self._schedule_rules()
        verdict = judge(entry, seen, rules.masks)
        if verdict is not Verdict.MIXTURE or not may_write:
            return verdict, seen
        held = await put_back(registers, seen, entry.before, rules)
        return Verdict.BEFORE if holds(held, entry.before, rules.masks) else Verdict.MIXTURE, held

    async def _battery(self, counts: LineCounts) -> Battery:
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

    @property
    def _longest_write(self) -> int:
        return 1 if self.map.line.write_function == 6 else self.map.line.longest_write

    def _schedule_rules(self) -> CommitRules:
        if self._stages is None:
            points = self._points()
            rules = self._frame_rules(points.addresses, masks_of(points))
            self._stages = rules, schedule_stages(points, rules)
        return self._rules(*self._stages)

    def _rules(self, rules: FrameRules, stages: Stages) -> CommitRules:
        patience = self.patience or Patience(settle=self.map.line.settle_ms / 1000)
        return CommitRules(frames=rules, stages=stages, patience=patience)

    def _frame_rules(self, named: Collection[Address], masks: Masks | None = None) -> FrameRules:
        return FrameRules(named=named, longest=self._longest_write, masks=masks or {}, by_mask=self.map.line.mask_write)

    def _schedule_registers(self, counts: LineCounts) -> _Registers:
        points = self._points()
        return _Registers(self, points.groups, points.addresses, counts)
