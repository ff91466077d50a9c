"""The commit: taking an inverter from one image to another, all or nothing, and knowing which.

A lost answer to a write is not a failure, it is not knowing: what decides is always what is read back.
"""

import asyncio
from collections.abc import Collection
from dataclasses import dataclass, field
from typing import Protocol

from ..line import LineError, Refused
from ..registers import Address
from .frames import Frame, frames
from .image import Image, Masks, holds, upon
from .journal import Entry, Journal
from .stages import NotSafely, Stages


class ScheduleRegisters(Protocol):
    """Registers of one inverter, over its line. Both raise LineError."""

    async def read(self) -> Image:
        """Read the whole image now."""

    async def write(self, frame: Frame) -> None:
        """Send one write request."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Patience:
    """How long a commit waits for a write to show before it writes again, in seconds, and how often it tries."""

    settle: float
    """From a write to the first look."""

    answered: float = 6.5
    """For a write that was answered as done: some inverters show it only seconds later."""

    unanswered: float = 1.5
    """For a write without an answer: most likely it never arrived."""

    tries: int = 3


@dataclass(frozen=True, kw_only=True, slots=True)
class CommitRules:
    """What may be written, in which frames, by which stages, and how patiently."""

    named: Collection[Address]
    longest_write: int
    stages: Stages
    patience: Patience
    masks: Masks = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True, slots=True)
class Taken:
    """The inverter holds `image`, read back. `registers_written` is 0 when it held it from the start."""

    image: Image
    registers_written: int = 0


class NotTaken(Exception):
    """The change did not take. The earlier image is on the inverter and was read back."""

    def __init__(self, why: str, image: Image) -> None:
        """Say why, as far as it is known."""
        super().__init__(why)
        self.image = image


class Uncertain(Exception):
    """Neither image could be proven. `seen` is what was read last, None when nothing could be read."""

    def __init__(self, why: str, seen: Image | None) -> None:
        """Say why, as far as it is known."""
        super().__init__(why)
        self.seen = seen


async def commit(
    registers: ScheduleRegisters,
    before: Image,
    after: Image,
    rules: CommitRules,
    journal: Journal | None = None,
    *,
    shift: int | None = None,
) -> Taken:
    """Take the inverter from `before`, just read, to `after`. `shift` tells the journal what they are in the house's time.

    Raises NotSafely or NoJournal before anything is sent; NotTaken or Uncertain after. The journal, if there is one, is written before the first
    write, cleared when one of the two images is proven, and kept when neither is.
    """
    if holds(before, after, rules.masks):
        # What is wanted was just read: whatever an earlier commit left open is settled by that.
        if journal is not None and journal.unfinished is not None:
            await journal.clear()
        return Taken(image=before)
    between = rules.stages(before, after)
    if journal is not None:
        await journal.write(Entry(before=before, after=after, between=between, shift=shift))
    attempt = _Attempt(registers, rules)
    seen = await attempt.reach(before, after)
    why = attempt.why
    if seen is not None and not (holds(seen, before, rules.masks) or holds(seen, after, rules.masks)):
        seen = await attempt.reach(seen, before)
    if seen is None or not (holds(seen, before, rules.masks) or holds(seen, after, rules.masks)):
        raise Uncertain(why, seen)
    if journal is not None:
        await journal.clear()
    if holds(seen, before, rules.masks):
        raise NotTaken(why, seen)
    return Taken(image=seen, registers_written=attempt.registers_written)


async def put_back(registers: ScheduleRegisters, seen: Image, before: Image, rules: CommitRules) -> Image | None:
    """Take the inverter from what was seen of an unfinished commit back to `before`; answers with what it holds then."""
    try:
        return await _Attempt(registers, rules).reach(seen, before)
    except NotSafely:
        return None


class _Attempt:
    """Going from image to image by stages, each written and read back."""

    def __init__(self, registers: ScheduleRegisters, rules: CommitRules) -> None:
        self._registers = registers
        self._rules = rules
        self.registers_written = 0
        self.why = ""

    async def reach(self, seen: Image, target: Image) -> Image | None:
        """Answer with the image read last: `target` when it was reached, None when nothing could be read at the end."""
        self.why = "it was answered as done but does not show"
        last: Image | None = seen
        for _ in range(self._rules.patience.tries):
            if last is None:
                last = await self._read()
                continue
            refused = False
            try:
                stages = self._rules.stages(last, upon(target, last, self._rules.masks))
            except NotSafely:
                if not self.registers_written:
                    raise
                self.why = "it was changed elsewhere meanwhile, to what cannot be left safely"
                return last
            for stage in stages:
                last, refused = await self._pass(last, upon(stage, last, self._rules.masks))
                if last is None or not holds(last, stage, self._rules.masks):
                    break
            # What was refused outright will not come true by asking again.
            if holds(last, target, self._rules.masks) or refused:
                return last
        return last

    async def _pass(self, seen: Image, stage: Image) -> tuple[Image | None, bool]:
        """Write one stage and read back until it shows; tells too whether the inverter refused it outright."""
        answered, refused = True, False
        for frame in frames(seen, stage, self._rules.named, self._rules.longest_write):
            self.registers_written += len(frame.values)
            try:
                await self._registers.write(frame)
            except Refused as refusal:
                self.why = str(refusal)
                refused = not refusal.may_have_acted
                answered = refusal.still_at_work
            except LineError as failure:
                self.why = str(failure)
                answered = False
            if refused:
                break
        return await self._look(stage, answered=answered, refused=refused), refused

    async def _look(self, stage: Image, *, answered: bool, refused: bool) -> Image | None:
        patience = self._rules.patience
        loop = asyncio.get_running_loop()
        until = loop.time() + (patience.answered if answered else patience.unanswered)
        pause = patience.settle
        while True:
            await asyncio.sleep(pause)
            seen = await self._read()
            if holds(seen, stage, self._rules.masks) or loop.time() >= until or (refused and seen is not None):
                return seen
            pause = min(2.0, max(2 * pause, 0.1), max(until - loop.time(), 0.01))

    async def _read(self) -> Image | None:
        try:
            return await self._registers.read()
        except LineError as failure:
            self.why = str(failure)
            return None
