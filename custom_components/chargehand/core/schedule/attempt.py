"""Taking an inverter from image to image by stages, each written frame by frame and read back.

A lost answer to a write is not a failure, it is not knowing: what decides is always what is read back.
"""

import asyncio
from collections.abc import Sequence

from ..modbus import LineError
from ..reasons import Reason
from .change_writer import ChangeWriter
from .commit_terms import NOT_SHOWN, CommitRules, ScheduleRegisters
from .frame_sender import Sent
from .frames import Frame, NoFrames, frames
from .image import Image, holds, upon
from .stages import NotSafely, Stage

_NOT_CARRIED_OUT = {Sent.REFUSED, Sent.LOCKED}


class Attempt:
    """Going from image to image by stages, each written and read back."""

    def __init__(self, registers: ScheduleRegisters, rules: CommitRules, writer: ChangeWriter) -> None:
        """Nothing is written before `reach`; `writer` writes, and knows why something did not take."""
        self._registers = registers
        self._rules = rules
        self._writer = writer
        self._sender = writer.sender
        self._written_before = writer.sender.registers_written
        self._one_by_one = False
        """Whether each frame is read back before the next: the inverter was deaf to one that came right after another, or locked."""

    @property
    def _has_written(self) -> bool:
        return self._sender.registers_written > self._written_before

    async def reach(self, seen: Image, target: Image) -> Image | None:
        """Return the image read last: `target` when it was reached, None when nothing could be read at the end."""
        self._sender.why = NOT_SHOWN
        last: Image | None = seen
        for _ in range(self._rules.patience.tries):
            if last is None:
                last = await self._read()
                continue
            refused = False
            try:
                stages = self._rules.stages(last, upon(target, last, self._rules.masks))
            except NotSafely:
                if not self._has_written:
                    raise
                self._sender.why = Reason(key="changed_meanwhile")
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
            last = await self.look(expected, sent)
            was_locked = sent is Sent.LOCKED or self._writer.may_have_been_locked
            if not holds(last, expected, self._rules.masks):
                # An inverter that is locked may answer a write as done and ignore it.
                self._writer.take_failed(sent)
            if last is None or sent is Sent.REFUSED:
                return last, sent is Sent.REFUSED
            if holds(last, stage.image, self._rules.masks) or not self._between(seen, last, stage.image):
                return last, False
            if sent is Sent.UNANSWERED and not holds(last, expected, self._rules.masks):
                self._one_by_one = True
            try:
                still = self._frames(last, stage)
            except NoFrames:
                return last, False
            if len(still) >= len(left):
                if not was_locked:
                    return last, False
                # Only one frame for sure finds it unlocked.
                self._one_by_one = True
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

    async def _send(self, left: Sequence[Frame], seen: Image) -> tuple[Image, Sent]:
        """Send frames until one is not answered as done; return what is to be seen if the sent ones took, and how the last was answered."""
        expected = dict(seen)
        sent = Sent.ANSWERED
        for frame in left[:1] if self._one_by_one else left:
            sent = await self._writer.send(frame)
            expected |= zip(frame.addresses, frame.values, strict=True)
            if sent is not Sent.ANSWERED:
                break
        return expected, sent

    async def look(self, expected: Image, sent: Sent = Sent.ANSWERED) -> Image | None:
        """Read back until the image shows what is expected, or patience ends; None when nothing could be read at the end."""
        patience = self._rules.patience
        loop = asyncio.get_running_loop()
        began = loop.time()
        pause = patience.settle
        while True:
            await asyncio.sleep(pause)
            seen = await self._read()
            # An inverter that cannot be read is busy with what was written; one that can shows what has arrived.
            patient = sent is Sent.ANSWERED or seen is None
            left = began + (patience.answered if patient else patience.unanswered) - loop.time()
            if left <= 0 or holds(seen, expected, self._rules.masks) or (sent in _NOT_CARRIED_OUT and seen is not None):
                return seen
            pause = min(2.0, max(2 * pause, 0.1), max(left, 0.01))

    async def _read(self) -> Image | None:
        try:
            return await self._registers.read()
        except LineError as failure:
            self._sender.why = failure
            return None
