"""Sending one write request of a change, again while the inverter says that it is busy."""

import asyncio
from dataclasses import replace
from enum import Enum, auto

from ..modbus import LineError, Refused
from .commit_terms import NOT_SHOWN, CommitRules, ScheduleRegisters, Why
from .frames import Frame

FIRST_BUSY_PAUSE, LONGEST_BUSY_PAUSE = 0.05, 1.0
"""Seconds from an answer that says "busy" to the next try, doubled each time."""

_NEVER_ARRIVED = {10, 11}
"""Exceptions by which a gateway says that a request did not get through (Modbus Application Protocol V1.1b3, section 7)."""


class Sent(Enum):
    """What became of a write, as far as its answer says."""

    ANSWERED = auto()
    UNANSWERED = auto()
    """It may have been carried out, or never have arrived."""

    REFUSED = auto()
    """It was not carried out, and will not be."""

    LOCKED = auto()
    """It was not carried out, perhaps only because the inverter has locked itself."""


class FrameSender:
    """Sends the write requests of one change."""

    def __init__(self, registers: ScheduleRegisters, rules: CommitRules) -> None:
        """Nothing is sent before `send`."""
        self._registers = registers
        self._rules = rules
        self.registers_written = 0
        """Registers in all requests but commands."""

        self.why: Why = NOT_SHOWN
        self.lost = False
        """Whether the last write was lost, or met a busy inverter: the inverter did not say no to it."""

    async def send(self, frame: Frame, *, command: bool = False) -> Sent:
        """Send one frame, and again while the inverter says that it is busy.

        A `command` changes nothing that could be read back, so its answer has to say that it is done: one that says that the inverter is
        still at work is not enough, and the command is sent again.
        """
        loop = asyncio.get_running_loop()
        until = loop.time() + self._rules.patience.busy
        pause = FIRST_BUSY_PAUSE
        while True:
            try:
                await self._write(frame, command=command)
            except Refused as refusal:
                self.why = refusal
                self.lost = refusal.busy or refusal.code in _NEVER_ARRIVED
                if refusal.still_at_work and not command:
                    return Sent.ANSWERED
                if refusal.busy and loop.time() < until:
                    await asyncio.sleep(pause)
                    pause = min(2 * pause, LONGEST_BUSY_PAUSE)
                    continue
                return Sent.UNANSWERED if refusal.may_have_acted else Sent.REFUSED
            except LineError as failure:
                self.why = failure
                self.lost = True
                return Sent.UNANSWERED
            self.lost = False
            return Sent.ANSWERED

    async def _write(self, frame: Frame, *, command: bool) -> None:
        if not command:
            frame = await self._with_others_bits(frame)
            self.registers_written += len(frame.values)
        await self._registers.write(frame)

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
