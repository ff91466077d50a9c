"""Writing the frames of a change, with what its map has written around them: an unlock before, a save after."""

import asyncio
from collections.abc import Awaitable, Callable
from functools import partial

from ..modbus import LineError
from ..reasons import Reason
from ..registers import AfterWrite, BeforeWrite, CommandWrite
from .commit_terms import NOT_SHOWN, CommitRules, ScheduleRegisters
from .frame_sender import FrameSender, Sent
from .frames import Frame

NOT_UNLOCKED = Reason(key="not_unlocked")
"""The unlock was answered as done, but reading it does not show that."""


class ChangeWriter:
    """Unlocks the inverter where its map says so, writes frames, and has them saved."""

    def __init__(self, registers: ScheduleRegisters, rules: CommitRules) -> None:
        """Nothing is sent before `send` or `save`."""
        self.sender = FrameSender(registers, rules)
        self.may_have_saved = False
        """Whether a write after the change was sent, and not refused outright."""

        self._registers = registers
        self._around = rules.around
        self._patience = rules.patience
        self._named = rules.frames.named
        self._unlocked_until: float | None = None
        """By the event loop's clock; None while it is not known to be unlocked."""

        self._just_unlocked = False
        self._refused_unlocked = False
        """Whether the last write was refused right after an unlock, which may itself not have taken."""

    @property
    def may_have_been_locked(self) -> bool:
        """Whether the last write was sent some time after an unlock, so that the inverter may have locked itself in between."""
        return bool(self._around.before) and not self._just_unlocked

    def take_failed(self, sent: Sent) -> None:
        """Unlock anew before the next write, since one did not take: the inverter may have locked itself.

        Not after one that was lost right after an unlock: an inverter that is deaf after each write would be so again.
        """
        if not (sent is Sent.UNANSWERED and self._just_unlocked):
            self._unlocked_until = None

    async def unlock(self) -> Sent:
        """Send what has to be written before a change, unless that holds for long enough still.

        It is sent once: an inverter that did not answer may have restarted, and has to be looked at before anything else is written.
        """
        now = asyncio.get_running_loop().time()
        self._just_unlocked = self._unlocked_until is None or now >= self._unlocked_until
        if not self._just_unlocked:
            return Sent.ANSWERED
        self._unlocked_until = None
        for write in self._around.before:
            sent = await self._command(write)
            if sent is not Sent.ANSWERED:
                return sent
        if self._around.before and self._around.before[-1].reads is None and not await self._is_awake():
            return Sent.UNANSWERED
        # The rest of the time is for what is written next, however slow the line.
        holds = min((write.lasts / 2 for write in self._around.before if write.lasts is not None), default=float("inf"))
        self._unlocked_until = now + holds
        return Sent.ANSWERED

    async def send(self, frame: Frame) -> Sent:
        """Send one frame to the unlocked inverter; LOCKED where it refuses as it would if it had locked itself."""
        return await self._unlocked(partial(self.sender.send, frame))

    async def save(self) -> Sent:
        """Send what has to be written after a change; ANSWERED once all of it is done. What was sent before may be sent again."""
        for write in self._around.after:
            sent = await self._carry_out(write)
            self.may_have_saved |= sent is not Sent.REFUSED
            if sent is not Sent.ANSWERED:
                return sent
        return Sent.ANSWERED

    async def _carry_out(self, write: AfterWrite) -> Sent:
        """Send a command until it is done; it may be sent several times. REFUSED only where none of these can have been carried out."""
        # An inverter that is locked may answer this as done and ignore it, which nothing may show.
        self._unlocked_until = None
        refused = Sent.REFUSED
        left = self._patience.tries
        while left:
            sent = await self._unlocked(partial(self._command, write))
            if sent is Sent.ANSWERED:
                return sent
            if sent is Sent.REFUSED:
                return refused
            # After a refusal that may only be for a lock comes another at most.
            if sent is Sent.UNANSWERED:
                refused = Sent.UNANSWERED
                left -= 1
            # On a serial line an answer that comes twice, or late, must not be taken for that of the next write.
            await self._is_awake()
        return Sent.UNANSWERED

    async def _unlocked(self, work: Callable[[], Awaitable[Sent]]) -> Sent:
        """Send something to the unlocked inverter."""
        opened = await self.unlock()
        if opened is not Sent.ANSWERED:
            return opened
        sent = await work()
        if sent is Sent.REFUSED and self._around.before and not (self._just_unlocked and self._refused_unlocked):
            sent = Sent.LOCKED
        self._refused_unlocked = sent is Sent.LOCKED and self._just_unlocked
        if sent is not Sent.ANSWERED:
            self.take_failed(sent)
        return sent

    async def _command(self, write: CommandWrite) -> Sent:
        """Send a command, and read what shows that it took."""
        sent = await self.sender.send(Frame(write.register, (write.value,)), command=True)
        if sent is Sent.REFUSED or write.reads is None:
            return sent
        shows = await self._shows(write, write.reads, sent)
        # An unlock is a state, which shows; that something was saved may show from an earlier time.
        proven = shows and (sent is Sent.ANSWERED or isinstance(write, BeforeWrite))
        return Sent.ANSWERED if proven else Sent.UNANSWERED

    async def _is_awake(self) -> bool:
        """Whether it answers again: some inverters are deaf after each write, and what is written next would be lost."""
        await asyncio.sleep(self._patience.settle)
        try:
            await self._registers.read_some([min(self._named)])
        except LineError as failure:
            self.sender.why = failure
            return False
        return True

    async def _shows(self, write: CommandWrite, reads: int, sent: Sent) -> bool:
        """Read the command's own register until it shows that it took, or patience ends."""
        loop = asyncio.get_running_loop()
        until = loop.time() + (self._patience.answered if sent is Sent.ANSWERED else self._patience.unanswered)
        pause = self._patience.settle
        while True:
            await asyncio.sleep(pause)
            try:
                shown = (await self._registers.read_some([write.address]))[write.address]
            except LineError as failure:
                self.sender.why = failure
            else:
                if shown == reads:
                    return True
                self.sender.why = NOT_UNLOCKED if isinstance(write, BeforeWrite) else NOT_SHOWN
            left = until - loop.time()
            if left <= 0:
                return False
            pause = min(2.0, max(2 * pause, 0.1), max(left, 0.01))
