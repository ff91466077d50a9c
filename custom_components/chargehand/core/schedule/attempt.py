"""Taking an inverter from image to image by stages, each written frame by frame and read back.

A lost answer to a write is not a failure, it is not knowing: what decides is always what is read back.
"""

import asyncio
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from enum import Enum, auto
from typing import Protocol

from ..modbus import LineError, Refused
from ..reasons import Reason
from ..registers import Address
from .frames import Frame, FrameRules, NoFrames, frames
from .image import Image, Masks, holds, upon
from .stages import NotSafely, Stage, Stages

type Why = Reason | LineError
"""Why a change did not take, as far as it is known."""

NOT_SHOWN = Reason(key="not_shown")
"""A write was answered as done, but reading back does not show it."""


class ScheduleRegisters(Protocol):
    """Registers of one inverter, over its line. All raise LineError."""

    async def read(self) -> Image:
        """Read the whole image now."""

    async def read_some(self, addresses: Collection[Address]) -> Image:
        """Read these registers of it now."""

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
    """For a write without an answer that does not show in what can be read: most likely it never arrived."""

    busy: float = 6.5
    """For an inverter that answers a write by saying that it is busy."""

    tries: int = 3
    """Attempts at a stage that bring it no further."""


@dataclass(frozen=True, kw_only=True, slots=True)
class CommitRules:
    """What may be written, by which stages, and how patiently."""

    frames: FrameRules
    stages: Stages
    patience: Patience

    @property
    def masks(self) -> Masks:
        """The bits that are the commit's own in shared registers."""
        return self.frames.masks


FIRST_BUSY_PAUSE, LONGEST_BUSY_PAUSE = 0.05, 1.0
"""Seconds from an answer that says "busy" to the next try, doubled each time."""

_NEVER_ARRIVED = {10, 11}
"""Exceptions by which a gateway says that a request did not get through (Modbus Application Protocol V1.1b3, section 7)."""


class _Sent(Enum):
    """What became of a write, as far as its answer says."""

    ANSWERED = auto()
    UNANSWERED = auto()
    """It may have been carried out, or never have arrived."""

    REFUSED = auto()
    """It was not carried out, and will not be."""


class Attempt:
    """Going from image to image by stages, each written and read back."""

    def __init__(self, registers: ScheduleRegisters, rules: CommitRules) -> None:
        """Nothing is written before `reach`."""
        self._registers = registers
        self._rules = rules
        self._one_by_one = False
        """Whether each frame is read back before the next: the inverter was deaf to one that came right after another."""

        self.registers_written = 0
        self.why: Why = NOT_SHOWN
        self.lost = False
        """Whether the last write was lost, or met a busy inverter: the inverter did not say no to it."""

    async def reach(self, seen: Image, target: Image) -> Image | None:
        """Return the image read last: `target` when it was reached, None when nothing could be read at the end."""
        self.why = NOT_SHOWN
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
                self.why = Reason(key="changed_meanwhile")
                return last
            for stage in stages:
                last, refused = await self._pass(last, stage)
                if last is None or not holds(last, stage.image, self._rules.masks):
                    break
            # What was refused outright will not come true by asking again.
            if holds(last, target, self._rules.masks) or refused:
                return last
        return last

    async def _pass(self, seen: Image, stage: Stage) -> tuple[Image | None, bool]:
        """Write one stage and read back until it shows, as long as each attempt brings it further.

        Return the image read last, and whether the inverter refused the stage outright.
        """
        left = self._frames(seen, stage)
        while True:
            expected, sent = await self._send(left, seen)
            last = await self._look(expected, sent)
            if last is None or sent is _Sent.REFUSED:
                return last, sent is _Sent.REFUSED
            if holds(last, stage.image, self._rules.masks) or not self._between(seen, last, stage.image):
                return last, False
            if sent is _Sent.UNANSWERED and not holds(last, expected, self._rules.masks):
                self._one_by_one = True
            try:
                still = self._frames(last, stage)
            except NoFrames:
                return last, False
            if len(still) >= len(left):
                return last, False
            left, seen = still, last

    def _frames(self, seen: Image, stage: Stage) -> tuple[Frame, ...]:
        return frames(seen, upon(stage.image, seen, self._rules.masks), self._rules.frames, stage.together)

    def _between(self, seen: Image, last: Image, target: Image) -> bool:
        """Whether every register is as it was before a stage or as the stage has it: nobody else has changed one."""
        masks = self._rules.masks
        return all(
            ((value ^ seen[address]) & masks.get(address, 0xFFFF)) == 0
            or ((value ^ target[address]) & masks.get(address, 0xFFFF)) == 0
            for address, value in last.items()
        )

    async def _send(self, left: Sequence[Frame], seen: Image) -> tuple[Image, _Sent]:
        """Send frames until one is not answered as done; return what is to be seen if the sent ones took, and how the last was answered."""
        expected = dict(seen)
        sent = _Sent.ANSWERED
        for frame in left[:1] if self._one_by_one else left:
            sent = await self._write(frame)
            expected |= zip(frame.addresses, frame.values, strict=True)
            if sent is not _Sent.ANSWERED:
                break
        return expected, sent

    async def _write(self, frame: Frame) -> _Sent:
        """Send one frame, and again while the inverter says that it is busy."""
        loop = asyncio.get_running_loop()
        until = loop.time() + self._rules.patience.busy
        pause = FIRST_BUSY_PAUSE
        while True:
            try:
                fresh = await self._with_others_bits(frame)
                self.registers_written += len(fresh.values)
                await self._registers.write(fresh)
            except Refused as refusal:
                self.why = refusal
                self.lost = refusal.busy or refusal.code in _NEVER_ARRIVED
                if refusal.still_at_work:
                    return _Sent.ANSWERED
                if refusal.busy and loop.time() < until:
                    await asyncio.sleep(pause)
                    pause = min(2 * pause, LONGEST_BUSY_PAUSE)
                    continue
                return _Sent.UNANSWERED if refusal.may_have_acted else _Sent.REFUSED
            except LineError as failure:
                self.why = failure
                self.lost = True
                return _Sent.UNANSWERED
            self.lost = False
            return _Sent.ANSWERED

    async def _with_others_bits(self, frame: Frame) -> Frame:
        """Return the frame with the bits that are not the schedule's as they are now: nobody else's change is undone by a stale read."""
        masks = self._rules.masks
        shared = [address for address in frame.addresses if address in masks]
        if not shared or frame.mask is not None:
            return frame
        now = await self._registers.read_some(shared)
        values = dict(zip(frame.addresses, frame.values, strict=True))
        for address in shared:
            values[address] = (values[address] & masks[address]) | (now[address] & ~masks[address] & 0xFFFF)
        return replace(frame, values=tuple(values.values()))

    async def _look(self, expected: Image, sent: _Sent) -> Image | None:
        """Read back until the image shows what is expected, or patience ends; None when nothing could be read at the end."""
        patience = self._rules.patience
        loop = asyncio.get_running_loop()
        began = loop.time()
        pause = patience.settle
        while True:
            await asyncio.sleep(pause)
            seen = await self._read()
            # An inverter that cannot be read is busy with what was written; one that can shows what has arrived.
            patient = sent is _Sent.ANSWERED or seen is None
            left = began + (patience.answered if patient else patience.unanswered) - loop.time()
            if left <= 0 or holds(seen, expected, self._rules.masks) or (sent is _Sent.REFUSED and seen is not None):
                return seen
            pause = min(2.0, max(2 * pause, 0.1), max(left, 0.01))

    async def _read(self) -> Image | None:
        try:
            return await self._registers.read()
        except LineError as failure:
            self.why = failure
            return None
