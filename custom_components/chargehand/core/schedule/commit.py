"""The commit: one change of registers, all or nothing, and knowing which."""

from dataclasses import dataclass

from ..reasons import Reason
from .attempt import NOT_SHOWN, Attempt, CommitRules, ScheduleRegisters, Why
from .image import Image, holds
from .journal import Entry, Journal, Verdict, judge
from .stages import NotSafely


@dataclass(frozen=True, kw_only=True, slots=True)
class Taken:
    """The inverter holds `image`, read back. `registers_written` is 0 when it held it from the start."""

    image: Image
    registers_written: int = 0


class NotTaken(Exception):
    """The change did not take. The earlier image is on the inverter and was read back."""

    def __init__(self, why: Why, image: Image, *, lost: bool = False) -> None:
        """Keep why, as far as it is known; `lost` when the line lost the writes, so that the inverter may take them another time."""
        super().__init__(str(why))
        self.why = why
        self.image = image
        self.lost = lost


class Uncertain(Exception):
    """Neither image could be proven. `seen` is what was read last, None when nothing could be read."""

    def __init__(self, why: Why, seen: Image | None) -> None:
        """Keep why, as far as it is known."""
        super().__init__(str(why))
        self.why = why
        self.seen = seen


class CommitSession:
    """One change of registers, from what is there to what is proven: read, decide, write, prove, in that order."""

    def __init__(self, registers: ScheduleRegisters, rules: CommitRules, journal: Journal | None = None) -> None:
        """`journal` keeps what is begun, so that a crash leaves no question open; None: nothing is kept."""
        self._registers = registers
        self._rules = rules
        self._journal = journal
        self._attempt = Attempt(registers, rules)
        self._before: Image = {}
        self._after: Image = {}
        self._seen: Image | None = None
        self._why: Why = NOT_SHOWN
        self._lost = False

    async def read(self) -> Image:
        """Return what the change starts from. Half of an earlier one is put back first: it must not pass for the earlier schedule.

        Raises LineError, and Uncertain when half of an earlier one stays; its entry then stays in the journal.
        """
        seen = await self._registers.read()
        entry = None if self._journal is None else self._journal.unfinished
        if entry is not None:
            verdict, held = await self.settle(entry, seen, may_write=True)
            if held is None or verdict is Verdict.MIXTURE:
                raise Uncertain(Reason(key="earlier_unfinished"), held)
            seen = held
        self._before = self._seen = seen
        return seen

    def decide(self, after: Image) -> None:
        """Take what the registers are to be. Raises NotSafely where there is no safe way there and back; nothing has been sent."""
        self._after = after
        if not self._held(self._before, after):
            self._rules.stages(self._before, after)

    async def write(self, shift: int | None = None) -> None:
        """Go there by stages; from halfway, back again. `shift` lets the journal say what the images are in the house's time.

        Raises NoJournal before anything is sent.
        """
        if self._held(self._before, self._after):
            return
        if self._journal is not None:
            between = tuple(stage.image for stage in self._rules.stages(self._before, self._after))
            await self._journal.write(Entry(before=self._before, after=self._after, between=between, shift=shift))
        self._seen = await self._attempt.reach(self._before, self._after)
        self._why, self._lost = self._attempt.why, self._attempt.lost
        if self._seen is not None and not self._is_whole(self._seen):
            self._seen = await self._attempt.reach(self._seen, self._before)

    async def prove(self) -> Taken:
        """Return what the inverter is proven to hold.

        Raises NotTaken when that is the earlier image, Uncertain when it is neither. The journal is cleared unless it is neither.
        """
        if self._seen is None or not self._is_whole(self._seen):
            raise Uncertain(self._why, self._seen)
        if self._journal is not None and self._journal.unfinished is not None:
            await self._journal.clear()
        if not self._held(self._seen, self._after):
            raise NotTaken(self._why, self._seen, lost=self._lost)
        return Taken(image=self._seen, registers_written=self._attempt.registers_written)

    async def settle(self, entry: Entry, seen: Image, *, may_write: bool) -> tuple[Verdict, Image | None]:
        """Decide an unfinished change by what was just read; half of it is put back to what was before, where that is allowed.

        Return MIXTURE when half is there still; and what the inverter holds, None when that could not be read again.
        """
        verdict = judge(entry, seen, self._rules.masks)
        if verdict is not Verdict.MIXTURE or not may_write:
            return verdict, seen
        try:
            held = await self._reach(seen, entry.before)
        except NotSafely:
            held = await self._back_by_way_of_after(entry, seen)
        return Verdict.BEFORE if self._held(held, entry.before) else Verdict.MIXTURE, held

    async def _reach(self, seen: Image, target: Image) -> Image | None:
        return await Attempt(self._registers, self._rules).reach(seen, target)

    async def _back_by_way_of_after(self, entry: Entry, seen: Image) -> Image | None:
        """Write the new schedule, then the earlier one; return what the inverter holds then, None when there is no safe way.

        The new schedule may be the only one that names a mode in which no window acts. Another hand may have armed the inverter meanwhile.
        """
        try:
            held = await self._reach(seen, entry.after)
            if held is None or not self._held(held, entry.after):
                return held
            return await self._reach(held, entry.before)
        except NotSafely:
            return None

    def _held(self, seen: Image | None, image: Image) -> bool:
        return holds(seen, image, self._rules.masks)

    def _is_whole(self, seen: Image) -> bool:
        return self._held(seen, self._before) or self._held(seen, self._after)
