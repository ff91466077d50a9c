"""What is done to one inverter: the only way in for writes."""

import asyncio
from collections.abc import Callable, Collection
from dataclasses import replace
from datetime import UTC, datetime, tzinfo
from typing import override

from ..modbus import Line, LineCounts, Lost, NoConnection
from ..reasons import Reason
from ..registers import Address, Poll, RegisterMap, Value
from ..schedule import (
    Battery,
    ChangeRequest,
    CommitRules,
    CommitSession,
    Committed,
    Earlier,
    Edited,
    Effort,
    Entry,
    Found,
    Frame,
    FrameRules,
    Image,
    Journal,
    Masks,
    NotTaken,
    Patience,
    Requested,
    Schedule,
    ScheduleRequest,
    Stages,
    Verdict,
    bits_of,
    committed,
    frames,
    holds,
    inverter_time,
    masks_of,
    one_frame_stages,
    schedule_stages,
)
from .commit_registers import CommitRegisters
from .polling import Polled
from .reads import Reads

CLOCK_SET_WITHIN = 2.0
"""Seconds that a clock may be off right after it was set."""


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
        """How many write requests were sent."""

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
        self._writes += 1
        if self.on_written is not None:
            self.on_written(len(frame.values))
        if frame.mask is not None:
            await self.line.write_mask(frame.first, ~frame.mask & 0xFFFF, frame.values[0], counts=counts)
            return
        await self.line.write(frame.first, frame.values, function=self.map.line.write_function, counts=counts)

    async def apply(self, request: ScheduleRequest) -> Committed:
        """Check a request and commit it. Raises Rejected, NotSafely, LineError before any write; NotTaken, Uncertain after."""
        return await self._commit(Requested(request))

    async def edit(self, change: Callable[[Schedule], Schedule]) -> Committed:
        """Commit the schedule that the inverter holds with one change. Raises as `apply` does."""
        return await self._commit(Edited(change))

    async def put_image(self, target: Image) -> Committed:
        """Commit an image that this inverter held before, as far as the map still names its registers. Raises as `apply` does."""
        return await self._commit(Earlier(target))

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
            verdict, held = await self._session(registers).settle(entry, seen, may_write=may_write)
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
        """Write one control; answers with what was read back. Raises ValueRefused, NotTaken, Uncertain, LineError before the write."""
        return (await self.write_control(key, value))[0]

    async def write_control(self, key: str, value: Value) -> tuple[Value, Image]:
        """Write one control; answers with its value and its registers as they were read back. Raises as `set_control`."""
        control = self.map.controls[key]
        addresses = control.point.addresses
        async with self._writing:
            self._begin()
            rules = self._frame_rules(addresses, bits_of([control.point]))
            registers = CommitRegisters(self, self.write_frame, control.point.groups, addresses, LineCounts())
            session = CommitSession(registers, self._rules(rules, one_frame_stages(rules)))
            before = await session.read()
            session.decide({**before, **control.encode(value, before)})
            await session.write()
            taken = await session.prove()
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
            target = inverter_time(clock.keeps, self._now(), self.zone)
            values = clock.point.encode(target.replace(microsecond=0))
            # Frames of the whole clock, whatever it shows now: half a time must not stand for long.
            other = {address: value ^ 1 for address, value in values.items()}
            for frame in frames(other, values, self._frame_rules(tuple(values))):
                await self.write_frame(frame)
            await asyncio.sleep(self.map.line.settle_ms / 1000)
            after = await self.read_clock()
        if abs(after) > CLOCK_SET_WITHIN:
            raise NotTaken(Reason.of("clock_off", seconds=f"{after:.0f}"), {})
        return before, after

    # ---- inside

    def _begin(self) -> None:
        """A change begins; nothing has been sent yet. Raises NoConnection once the inverter was closed."""
        if self._closed:
            raise NoConnection(str(self.line.gateway.endpoint), Lost.CANNOT_CONNECT)

    async def _commit(self, change: ChangeRequest) -> Committed:
        counts = LineCounts()
        async with self._writing:
            self._begin()
            loop = asyncio.get_running_loop()
            started = loop.time()
            registers = self._schedule_registers(counts)
            session = self._session(registers)
            image = await session.read()
            battery = await self.read_battery(counts) if change.asks_battery else Battery()
            # The shift is taken once: summer time may change while the commit is at work.
            found = Found(points=self._points(), image=image, battery=battery, shift=self.shift())
            target = change.target(found)
            session.decide(target.image)
            await session.write(found.shift)
            taken = await session.prove()
            effort = Effort(
                reads=counts.reads,
                writes=counts.writes,
                retries=counts.retries,
                registers_read_back=registers.registers_read,
                seconds=loop.time() - started,
            )
            return committed(found, target, taken, effort, self._now())

    def _session(self, registers: CommitRegisters) -> CommitSession:
        return CommitSession(registers, self._schedule_rules(), self.journal)

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

    def _schedule_registers(self, counts: LineCounts) -> CommitRegisters:
        points = self._points()
        return CommitRegisters(self, self.write_frame, points.groups, points.addresses, counts)
