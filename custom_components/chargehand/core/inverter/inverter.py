"""One inverter: its reader, and the changes of its schedule, controls and clock."""

import asyncio
from collections.abc import Callable
from datetime import UTC, datetime, tzinfo

from ..modbus import Line, LineCounts, Lost, NoConnection
from ..reasons import Reason
from ..registers import Clock, RegisterMap, SchedulePoints, Value, WritesAround
from ..schedule import (
    Battery,
    ChangeRequest,
    CommitSession,
    CommitSteps,
    Committed,
    Earlier,
    Edited,
    Effort,
    Entry,
    Found,
    Image,
    Journal,
    NotTaken,
    Requested,
    Schedule,
    ScheduleRequest,
    Uncertain,
    Verdict,
    Watcher,
    arrived,
    committed,
    holds,
    inverter_time,
    masks_of,
)
from .change_state import ChangeState
from .commit_registers import CommitRegisters
from .commit_rules import MapCommitRules
from .frame_writer import FrameWriter
from .reader import InverterReader
from .settings_writer import SettingsWriter
from .supported import clock_points, schedule_points

CLOCK_SET_WITHIN = 2.0
"""Seconds that a clock may be off right after it was set."""


class Inverter:
    """One inverter as its register map describes it. Its changes are written one at a time. Line faults raise LineError."""

    def __init__(
        self,
        register_map: RegisterMap,
        line: Line,
        zone: tzinfo,
        now: Callable[[], datetime] = lambda: datetime.now(UTC),
        journal: Journal | None = None,
    ) -> None:
        """Set up the inverter. `zone` is Home Assistant's time zone, `now` returns an aware time."""
        self.map = register_map
        self.line = line
        self._now = now
        self.changes = ChangeState()
        """Held by the change that is at work; also by a write of another client that Chargehand passes on."""

        self.reader = InverterReader(register_map, line, zone, now, self.changes)
        self.writer = FrameWriter(register_map, line, self.changes)
        self.commit_rules = MapCommitRules(register_map)
        self._settings = SettingsWriter(self.reader, self.writer, self.commit_rules)
        self.journal = journal
        """Where a commit is recorded before its first write; None: nowhere."""

        self.on_step: Watcher | None = None
        """Told each step of a commit of the schedule as it begins."""

        self._saved_image: Image | None = None
        """What the inverter was proven to act on since the start; None: nothing, or another hand has changed it since."""

        self._closed = False

    @property
    def changing(self) -> bool:
        """Return whether a change is at work."""
        return self.changes.lock.locked()

    async def close(self) -> None:
        """Wait for the change that is at work, and start no other one: the connection is about to close."""
        async with self.changes.lock:
            self._closed = True

    # ---- the schedule

    @property
    def points(self) -> SchedulePoints | None:
        """Return where the schedule is kept, with the bounds of its limits as they were read last; None for a map without one."""
        return self.reader.points

    def shift(self) -> int:
        """Return the minutes that the inverter's clock should be ahead of Home Assistant's now."""
        return self.reader.shift()

    def schedule_of(self, image: Image, shift: int | None = None) -> Schedule:
        """Return the schedule of an image in Home Assistant's time. `shift` is that of the image's time; None: of now."""
        return self.reader.schedule_of(image, shift)

    def before_and_after(self, before: Image, after: Image) -> tuple[Schedule, Schedule]:
        """Return the schedules of an image and of what became of it. Windows that the map has gained since count as what they are."""
        return self.schedule_of({**after, **before}), self.schedule_of(after)

    def same(self, image: Image, other: Image) -> bool:
        """Return whether two images are the same schedule in all registers that both have.

        The map may have gained or lost windows since one of them was stored.
        """
        points = schedule_points(self.map)
        both = [at for at in points.addresses if at in image and at in other]
        one, another = ({at: held[at] for at in both} for held in (image, other))
        return bool(both) and holds(one, another, masks_of(points))

    async def read_schedule(self) -> Schedule:
        """Read the schedule between two changes. Raises NotSupported, LineError."""
        return self.reader.schedule_of(await self.read_image())

    async def read_image(self) -> Image:
        """Read the schedule's registers between two changes. Raises NotSupported, LineError."""
        async with self.changes.lock:
            return await self._schedule_registers(LineCounts()).read()

    async def apply(self, request: ScheduleRequest) -> Committed:
        """Check a request and commit it. Raises Rejected, NotSafely, LineError before any write; NotTaken, Uncertain after."""
        return await self.commit(Requested(request))

    async def edit(self, change: Callable[[Schedule], Schedule]) -> Committed:
        """Commit the schedule that the inverter holds with one change. Raises as `apply` does."""
        return await self.commit(Edited(change))

    async def put_image(self, target: Image) -> Committed:
        """Commit an image that this inverter held before, as far as the map still names its registers. Raises as `apply` does."""
        return await self.commit(Earlier(target))

    async def commit(self, change: ChangeRequest) -> Committed:
        """Commit what a change makes of the schedule that the inverter holds. Raises as `apply` does."""
        counts = LineCounts()
        async with self.changes.lock:
            self._check_open()
            loop = asyncio.get_running_loop()
            started = loop.time()
            registers = self._schedule_registers(counts, CommitSteps(self.on_step))
            session = self._schedule_session(registers)
            image = await session.read()
            battery = await self.reader.read_battery(counts) if change.asks_battery else Battery()
            # The shift is the same for the whole commit, even if summer time begins or ends meanwhile.
            points = schedule_points(self.map).known(image)
            found = Found(points=points, image=image, battery=battery, shift=self.reader.shift())
            target = change.target(found)
            session.decide(target.image)
            await session.write(found.shift)
            taken = await session.prove()
            self._saved_image = taken.image
            effort = Effort(
                reads=counts.reads,
                writes=counts.writes,
                retries=counts.retries,
                registers_read_back=registers.registers_read,
                seconds=loop.time() - started,
            )
            return committed(found, target, taken, effort, self._now())

    async def settle(self, entry: Entry, *, may_write: bool) -> tuple[Verdict, Image] | None:
        """Decide an unfinished commit by what the inverter holds now; put half a commit back to the schedule before it.

        Return the verdict (MIXTURE if putting back has not succeeded yet, UNSAVED if saving has not) and what the inverter holds.
        Return None if the commit was only under way and has finished meanwhile. Raises LineError.
        """
        async with self.changes.lock:
            if self.journal is not None and self.journal.unfinished != entry:
                return None
            self._check_open()
            registers = self._schedule_registers(LineCounts())
            seen = await registers.read()
            verdict, held = await self._schedule_session(registers).settle(entry, seen, may_write=may_write)
            return verdict, seen if held is None else held

    def arrived(self, entry: Entry, image: Image) -> Verdict:
        """Return what of an unfinished commit is in an image that it alone does not explain. Raises NotSupported."""
        return arrived(entry, image, schedule_points(self.map))

    def _schedule_registers(self, counts: LineCounts, steps: CommitSteps | None = None) -> CommitRegisters:
        points = schedule_points(self.map)
        return CommitRegisters(self.reader, self.writer, points.groups, points.addresses, counts, steps=steps)

    def _schedule_session(self, registers: CommitRegisters) -> CommitSession:
        def is_saved(image: Image) -> bool:
            return self._saved_image is not None and self.same(image, self._saved_image)

        return CommitSession(registers, self.commit_rules.for_schedule(), self.journal, is_saved=is_saved)

    def forget_saved(self) -> None:
        """Take note that another hand has changed the schedule: whether what it holds is saved is not known any more."""
        self._saved_image = None

    # ---- controls and the clock

    async def set_control(self, key: str, value: Value) -> Value:
        """Write one control, and return the value read back. Raises ValueRefused or LineError before the write, NotTaken or Uncertain after."""
        return (await self.write_control(key, value))[0]

    async def write_control(self, key: str, value: Value) -> tuple[Value, Image]:
        """Write one control, and return the value and the registers read back. Raises as `set_control` does."""
        control = self.map.controls[key]
        async with self.changes.lock:
            self._check_open()
            await self._end_half(control.around)
            return await self._settings.write_control(control, value)

    async def set_clock(self) -> tuple[float, float]:
        """Set the inverter's clock to Home Assistant's time, and return its offset before and after in seconds.

        Raises NotTaken if the clock then does not show that time within 2 s, and LineError.
        """
        clock = clock_points(self.map)
        async with self.changes.lock:
            self._check_open()
            try:
                await self._end_half(clock.around)
            except Uncertain as fault:
                raise NotTaken(fault.why, {}) from fault
            before = await self.reader.read_clock()
            await self._settings.write_clock(clock, lambda: self._clock_image(clock))
            await asyncio.sleep(self.map.line.settle_ms / 1000)
            after = await self.reader.read_clock()
        if abs(after) > CLOCK_SET_WITHIN:
            raise NotTaken(Reason.of("clock_off", seconds=f"{after:.0f}"), {})
        return before, after

    def _clock_image(self, clock: Clock) -> Image:
        """Return the registers of the time that the inverter's clock should show now."""
        return clock.point.encode(inverter_time(clock.keeps, self._now(), self.reader.zone).replace(microsecond=0))

    async def _end_half(self, around: WritesAround) -> None:
        """Put half of an unfinished commit back before something else is saved, which may let that half act. Raises Uncertain, LineError."""
        if around.after and self.journal is not None and self.journal.unfinished is not None:
            await self._schedule_session(self._schedule_registers(LineCounts())).read()

    def _check_open(self) -> None:
        """Raise NoConnection if the inverter was closed; no change has been sent yet."""
        if self._closed:
            raise NoConnection(str(self.line.gateway.endpoint), Lost.CANNOT_CONNECT)
