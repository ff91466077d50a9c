"""The commit: one change of registers, all or nothing, and knowing which."""

from collections.abc import Callable
from dataclasses import dataclass

from ..reasons import Reason
from .attempt import Attempt
from .change_writer import ChangeWriter
from .commit_terms import NOT_SHOWN, CommitRules, ScheduleRegisters, Why
from .frame_sender import Sent
from .image import Image, holds
from .journal import Entry, Journal, Verdict, judge, owed
from .stages import NotSafely

NOT_SAVED, SAVE_REFUSED = Reason(key="not_saved"), Reason(key="save_refused")
"""The inverter has not said that it saved a change; it said that it will not."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Taken:
    """The inverter acts on `image`, read back. `registers_written` is 0 when it held it from the start; `saved` if it was told to save it."""

    image: Image
    registers_written: int = 0
    saved: bool = False


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

    def __init__(
        self,
        registers: ScheduleRegisters,
        rules: CommitRules,
        journal: Journal | None = None,
        *,
        owes_save: bool = False,
        is_saved: Callable[[Image], bool] = lambda _image: False,
    ) -> None:
        """`journal` keeps what is begun, so that a crash leaves no question open; None: nothing is kept.

        `owes_save`: whether an earlier change was to save what is there, and may not have. `is_saved`: whether an image is known to be
        saved; one that is not is saved when it is asked for.
        """
        self._registers = registers
        self._rules = rules
        self._journal = journal
        self._writer = ChangeWriter(registers, rules)
        self._attempt = Attempt(registers, rules, self._writer)
        self._before: Image = {}
        self._after: Image = {}
        self._seen: Image | None = None
        self._why: Why = NOT_SHOWN
        self._lost = False
        self._saves = bool(rules.around.after)
        self._owes_earlier = owes_save and self._saves
        self._is_saved = is_saved
        self._saved: Sent | None = None
        """How the last save ended; ANSWERED only if its image was still there afterwards. None: none was needed or sent."""

    async def read(self) -> Image:
        """Return what the change starts from. Half of an earlier one is put back first: it must not pass for the earlier schedule.

        Raises LineError, and Uncertain when half of an earlier one stays; its entry then stays in the journal.
        """
        seen = await self._registers.read()
        entry = None if self._journal is None else self._journal.unfinished
        if entry is not None:
            verdict, held = await self._put_half_back(entry, seen, may_write=True)
            if held is None or verdict is Verdict.MIXTURE:
                raise Uncertain(Reason(key="earlier_unfinished"), held)
            seen = held
            self._owes_earlier = self._saves and bool(entry.owes)
        self._before = self._seen = seen
        return seen

    def decide(self, after: Image) -> None:
        """Take what the registers are to be. Raises NotSafely where there is no safe way there and back; nothing has been sent."""
        self._after = after
        if not self._held(self._before, after):
            self._rules.stages(self._before, after)

    async def write(self, shift: int | None = None) -> None:
        """Go there by stages, and save it; from halfway, back again. `shift` lets the journal say what the images are in the house's time.

        Raises NoJournal before anything is sent.
        """
        if self._held(self._before, self._after):
            if self._owes_earlier or (self._saves and not self._is_saved(self._before)):
                if self._journal is not None and self._journal.unfinished is None:
                    await self._journal.write(self._entry(self._before, shift))
                self._seen = await self._keep(self._before)
            return
        if self._journal is not None:
            await self._journal.write(self._entry(self._after, shift))
        self._seen = await self._bring(self._before, self._after, save=self._saves)
        sender = self._writer.sender
        self._why, self._lost = SAVE_REFUSED if self._saved is Sent.REFUSED else sender.why, sender.lost
        if self._seen is not None and self._has_to_go_back(self._seen):
            save = self._writer.may_have_saved or self._owes_earlier
            self._seen = await self._bring(self._seen, self._before, save=save)
            if self._saves and self._seen is not None and self._held(self._seen, self._after):
                # Its writes have shown only now.
                self._seen = await self._keep(self._seen)

    async def prove(self) -> Taken:
        """Return what the inverter is proven to act on.

        Raises NotTaken when that is the earlier image, Uncertain when it is neither. The journal is cleared unless it is neither.
        """
        if self._seen is None or not self._is_whole(self._seen):
            raise Uncertain(self._why, self._seen)
        if self._saved not in (None, Sent.ANSWERED):
            raise Uncertain(SAVE_REFUSED if self._saved is Sent.REFUSED else NOT_SAVED, self._seen)
        if self._journal is not None and self._journal.unfinished is not None:
            await self._journal.clear()
        if not self._held(self._seen, self._after):
            raise NotTaken(self._why, self._seen, lost=self._lost)
        written = self._writer.sender.registers_written
        return Taken(image=self._seen, registers_written=written, saved=self._saved is Sent.ANSWERED)

    async def settle(self, entry: Entry, seen: Image, *, may_write: bool) -> tuple[Verdict, Image | None]:
        """Decide an unfinished change by what was just read; half of it is put back to what was before, where that is allowed.

        Return MIXTURE when half is there still, UNSAVED when all of an image is there and saving it is not proven; and what the inverter
        holds, None when that could not be read again.
        """
        verdict, held = await self._put_half_back(entry, seen, may_write=may_write)
        if verdict not in (Verdict.BEFORE, Verdict.AFTER) or not (self._saves and entry.owes) or held is None:
            return verdict, held
        if not may_write:
            return Verdict.UNSAVED, held
        held = await self._keep(held)
        return verdict if self._saved is Sent.ANSWERED else Verdict.UNSAVED, held

    # ---- going there, and back

    async def _bring(self, seen: Image, target: Image, *, save: bool) -> Image | None:
        """Go from an image to another, and save that one; return what was read last, None when nothing could be read."""
        last: Image | None = seen
        self._saved = None
        for _ in range(self._rules.patience.tries):
            if last is not None and not self._held(last, target):
                last = await self._attempt.reach(last, target)
            if last is None or not self._held(last, target) or not save:
                return last
            last = await self._keep(last)
            if self._saved is not Sent.UNANSWERED or self._held(last, target):
                return last
        return last

    async def _keep(self, image: Image) -> Image | None:
        """Save an image that was just read, and look at it once more: what was saved is what was there by then."""
        self._saved = await self._writer.save()
        if self._saved is not Sent.ANSWERED:
            return image
        seen = await self._attempt.look(image)
        if not self._held(seen, image):
            self._saved = Sent.UNANSWERED
        return seen

    def _entry(self, after: Image, shift: int | None) -> Entry:
        between = (
            tuple(stage.image for stage in self._rules.stages(self._before, after)) if after != self._before else ()
        )
        return Entry(before=self._before, after=after, between=between, shift=shift, owes=owed(self._rules.around))

    def _has_to_go_back(self, seen: Image) -> bool:
        """Whether what was read last must not stay: half of the change, a change that is not saved, or an earlier image that may not be."""
        if self._held(seen, self._after):
            return self._saved is Sent.REFUSED
        return not self._held(seen, self._before) or self._writer.may_have_saved or self._owes_earlier

    async def _put_half_back(self, entry: Entry, seen: Image, *, may_write: bool) -> tuple[Verdict, Image | None]:
        """Decide an unfinished change by what was just read, and put half of it back where that is allowed; nothing is saved."""
        verdict = judge(entry, seen, self._rules.masks)
        if verdict is not Verdict.MIXTURE or not may_write:
            return verdict, seen
        try:
            held = await self._reach(seen, entry.before)
        except NotSafely:
            held = await self._back_by_way_of_after(entry, seen)
        return Verdict.BEFORE if self._held(held, entry.before) else Verdict.MIXTURE, held

    async def _reach(self, seen: Image, target: Image) -> Image | None:
        return await Attempt(self._registers, self._rules, self._writer).reach(seen, target)

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
