"""The commit: taking an inverter from one image to another, and knowing that it got there.

A lost answer to a write is not a failure, it is not knowing: what decides is always what is read back.
"""

import asyncio
from collections.abc import Collection
from dataclasses import dataclass
from typing import Protocol

from ..line import LineError, Refused
from ..registers import Address
from .frames import Frame, frames
from .image import Image


class ScheduleRegisters(Protocol):
    """The registers of one inverter's schedule, over its line. Both raise LineError."""

    async def read(self) -> Image:
        """Read the whole image now."""

    async def write(self, frame: Frame) -> None:
        """Send one write request."""


@dataclass(frozen=True, kw_only=True, slots=True)
class CommitRules:
    """What the register map says about writing, and how patient a commit is. Times in seconds."""

    named: Collection[Address]
    longest_write: int
    settle: float
    patience: float = 8.0
    """From a write to when the image must have been seen; some inverters show a change only after seconds."""

    write_again_after: tuple[float, ...] = (2.5, 5.5)
    """When a write that has not shown is sent again."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Taken:
    """The inverter holds `image`, read back. `registers_written` is 0 when it held it from the start."""

    image: Image
    registers_written: int = 0


class SeveralFrames(Exception):
    """The change does not fit one write frame. Nothing was sent."""

    def __init__(self, count: int) -> None:
        """Keep how many it would take."""
        super().__init__(f"takes {count} frames")
        self.count = count


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


async def commit(registers: ScheduleRegisters, before: Image, after: Image, rules: CommitRules) -> Taken:
    """Take the inverter from `before`, just read, to `after`. Raises SeveralFrames, NotTaken or Uncertain."""
    planned = frames(before, after, rules.named, rules.longest_write)
    if not planned:
        return Taken(image=before)
    if len(planned) > 1:
        raise SeveralFrames(len(planned))
    attempt = _Attempt(registers, rules)
    seen = await attempt.reach(after, planned[0])
    if seen == after:
        return Taken(image=after, registers_written=attempt.registers_written)
    if seen == before:
        raise NotTaken(attempt.why, before)
    why = attempt.why
    if seen is not None:
        back = frames(seen, before, rules.named, rules.longest_write)
        if len(back) == 1:
            seen = await attempt.reach(before, back[0])
            if seen == before:
                raise NotTaken(why, before)
    raise Uncertain(why, seen)


class _Attempt:
    """Writing one frame and reading back until it shows."""

    def __init__(self, registers: ScheduleRegisters, rules: CommitRules) -> None:
        self._registers = registers
        self._rules = rules
        self.registers_written = 0
        self.why = "it was answered as done but does not show"

    async def reach(self, target: Image, frame: Frame) -> Image | None:
        """Answer with the image read last: `target` as soon as it shows, else whatever is there when patience ends."""
        loop = asyncio.get_running_loop()
        refused = not await self._write(frame)
        started = loop.time()
        again = list(self._rules.write_again_after)
        pause = self._rules.settle
        while True:
            await asyncio.sleep(pause)
            seen = await self._read()
            elapsed = loop.time() - started
            # What was refused outright will not come true by waiting.
            if seen == target or elapsed >= self._rules.patience or (refused and seen is not None):
                return seen
            if again and elapsed >= again[0]:
                again.pop(0)
                refused = not await self._write(frame)
            pause = min(2.0, max(2 * pause, 0.1))

    async def _write(self, frame: Frame) -> bool:
        """Send the frame; False when the inverter refused it outright, so that it cannot have acted."""
        self.registers_written += len(frame.values)
        try:
            await self._registers.write(frame)
        except Refused as refusal:
            self.why = str(refusal)
            return refusal.may_have_acted
        except LineError as failure:
            self.why = str(failure)
        return True

    async def _read(self) -> Image | None:
        try:
            return await self._registers.read()
        except LineError as failure:
            self.why = str(failure)
            return None
