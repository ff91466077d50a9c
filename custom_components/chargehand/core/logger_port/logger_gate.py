"""Between the data logger and the line: each request in its turn, apart from changes of Chargehand's own, from memory where that will do."""

import asyncio
from collections.abc import AsyncIterator, Callable, Mapping
from contextlib import asynccontextmanager, nullcontext, suppress
from dataclasses import dataclass

from ..inverter import Inverter
from ..modbus import LineError, NoAnswer
from .logger_reads import LoggerReads
from .logger_request import (
    BAD_ADDRESS,
    BAD_FUNCTION,
    BUSY,
    EXCEPTION_BIT,
    NO_TARGET,
    LoggerRequest,
    Stretch,
    exception,
    parse,
)
from .port_counts import PortCounts
from .port_rules import PortRules
from .register_memory import RegisterMemory
from .unanswered import Unanswered

PATIENCE_SECONDS = 0.8
"""How long a request waits for a change to end, and for other clients, before it is answered with 06: the data logger would give up."""

LEAVES_LINE_SECONDS = 0.7
"""How long a read of other registers leaves the line to a change that is at work: most are over by then."""

MAY_HAVE_WRITTEN = {4, 5, 6, 10, 11}
"""Exceptions after which a write may have been carried out all the same (Modbus Application Protocol V1.1b3, 7)."""


@dataclass(frozen=True, kw_only=True, slots=True)
class LoggerWrite:
    """A request of the data logger that has changed registers, or may have, or was not let through."""

    function: int
    registers: frozenset[int]
    """All that it names; none: it writes something else, such as coils."""

    was: Mapping[int, int]
    """Values before, by register, as far as they were read."""

    now: Mapping[int, int]
    """Values that were written, by register; empty where the request does not name them."""

    answered: bool
    """Whether the inverter answered that it has taken them."""

    guarded: bool
    """Whether it concerns registers that Chargehand itself writes."""


class LoggerGate:
    """Answers the data logger's requests to one inverter."""

    def __init__(
        self,
        inverter: Inverter,
        rules: PortRules,
        *,
        wrote: Callable[[LoggerWrite], None] = lambda _write: None,
        refused: Callable[[LoggerWrite], None] = lambda _write: None,
    ) -> None:
        """Stand before an inverter's line, and learn what is read on it. `wrote` and `refused` learn of the logger's writes at once."""
        self.counts = PortCounts()
        self._line = inverter.line
        self._changes = inverter.changes
        schedule = inverter.map.schedule
        self._guarded = inverter.map.writable | (frozenset() if schedule is None else frozenset(schedule.addresses))
        self._rules = rules
        self._wrote = wrote
        self._refused = refused
        self._line.observer = self._memory = RegisterMemory(rules.fresh_seconds)
        self._reads = inverter.reader.others = LoggerReads(self._memory, rules.taken_seconds)
        self._reader = inverter.reader
        self._unanswered = Unanswered()
        self._turn = asyncio.Lock()
        """One request at a time is on its way to the line, however many clients there are: polls wait for one at most."""

        self._writing: set[asyncio.Task[bytes]] = set()

    async def close(self) -> None:
        """Let writes that are on their way come to their end."""
        self._line.observer = self._reader.others = None
        if self._writing:
            await asyncio.wait(self._writing)

    def _end_write(self, task: asyncio.Task[bytes]) -> None:
        self._writing.discard(task)
        if not task.cancelled():
            # Nobody may be left to take its error; the event loop would report that.
            task.exception()

    async def answer(self, pdu: bytes) -> bytes | None:
        """Return the PDU of the answer to a request; None where the inverter gives none."""
        loop = asyncio.get_running_loop()
        request, now = parse(pdu), loop.time()
        self.counts.record_request(now)
        if request.function & EXCEPTION_BIT:
            # These codes are for exceptions alone: an answer could not be told from one.
            return exception(pdu, BAD_FUNCTION)
        if request.may_write and self._rules.refuses_writes:
            self.counts.refused += 1
            self._refused(self._write_of(request, answered=False))
            return exception(pdu, BAD_ADDRESS)
        try:
            if not request.may_write:
                return await self._read(request, now + PATIENCE_SECONDS)
            # Also when its client leaves meanwhile: until it has ended no change may begin.
            task = asyncio.create_task(self._write(request, now + PATIENCE_SECONDS))
            self._writing.add(task)
            task.add_done_callback(self._end_write)
            return await asyncio.shield(task)
        except TimeoutError:
            self.counts.busy += 1
            return exception(pdu, BUSY)
        except LineError:
            self.counts.unanswered += 1
            return None

    async def _read(self, request: LoggerRequest, until: float) -> bytes:
        """Read; registers that Chargehand writes are read as they were before a change or as they are after it."""
        loop, guarded = asyncio.get_running_loop(), self._is_guarded(request.reads)
        if request.reads is not None:
            self._reads.record_asked(request.reads, loop.time())
        # Registers that no change writes may be read beside one, but it is faster on a line of its own.
        leaves = until if guarded else loop.time() + LEAVES_LINE_SECONDS
        while True:
            with nullcontext() if guarded else suppress(TimeoutError):
                async with asyncio.timeout_at(leaves):
                    await self._changes.settled()
            async with _held(self._turn, until if guarded else leaves + PATIENCE_SECONDS):
                if self._changes.lock.locked() and (guarded or loop.time() < leaves):
                    continue
                data = None if request.reads is None else self._memory.find(request.reads, loop.time())
                if data is not None:
                    self.counts.from_memory += 1
                    return request.pdu[:1] + data
                if self._unanswered.is_paused(request.pdu, loop.time()):
                    raise NoAnswer("the inverter has left this request unanswered several times")
                writes, version = self._changes.writes, self._changes.version()
                answer = await self._pass_read(request.pdu)
                # What is read while a change is at work is not for polls.
                quiet = version is not None and version == self._changes.version()
                if quiet and request.reads is not None and answer[0] == request.function:
                    self._reads.record_passed(request.reads)
            # What a change has written meanwhile may be half of it.
            if not guarded or self._changes.writes == writes:
                return answer

    async def _pass_read(self, pdu: bytes) -> bytes:
        """Ask the inverter. What its gateway answers for it, because it is silent, counts as a silence."""
        self.counts.passed_on += 1
        answered = False
        try:
            answer = await self._line.pass_on(pdu, changes=False)
            answered = answer != exception(pdu, NO_TARGET)
        finally:
            now = asyncio.get_running_loop().time()
            self._unanswered.record(pdu, now, answered=answered, others_at=self._memory.answered_at)
        return answer

    async def _write(self, request: LoggerRequest, until: float) -> bytes:
        """Write; registers that Chargehand writes too, only between two of its changes."""
        if not self._is_guarded_write(request):
            return await self._pass_write(request, until)
        async with self._changes.passing(until):
            if request.is_write:
                self._changes.record_write()
            return await self._pass_write(request, until)

    async def _pass_write(self, request: LoggerRequest, until: float) -> bytes:
        async with _held(self._turn, until):
            self.counts.passed_on += 1
            try:
                answer = await self._line.pass_on(request.pdu, changes=True)
            except LineError:
                self._report(request, taken=False)
                raise
            taken = not answer[0] & EXCEPTION_BIT
            if taken or answer[1] in MAY_HAVE_WRITTEN:
                self._report(request, taken=taken)
            return answer

    def _report(self, request: LoggerRequest, *, taken: bool) -> None:
        """Tell of a write. A function that nobody here knows is none: a data logger may read by it every second."""
        if request.is_write:
            write = self._write_of(request, answered=taken)
            self._memory.last |= write.now if taken else {}
            self._wrote(write)

    def _write_of(self, request: LoggerRequest, *, answered: bool) -> LoggerWrite:
        writes, last = request.writes, self._memory.last
        addresses = () if writes is None else range(writes.first, writes.first + writes.count)
        return LoggerWrite(
            function=request.function,
            registers=frozenset(addresses),
            was={at: last[at] for at in addresses if at in last},
            now=dict(zip(addresses, request.values, strict=False)),
            answered=answered,
            guarded=self._is_guarded_write(request),
        )

    def _is_guarded_write(self, request: LoggerRequest) -> bool:
        """Return whether a request may change registers that Chargehand writes; an unknown one may change anything."""
        return request.writes is None or self._is_guarded(request.writes) or self._is_guarded(request.reads)

    def _is_guarded(self, stretch: Stretch | None) -> bool:
        if stretch is None:
            return False
        return any((stretch.table, stretch.first + place) in self._guarded for place in range(stretch.count))


@asynccontextmanager
async def _held(lock: asyncio.Lock, until: float) -> AsyncIterator[None]:
    """Hold a lock. Raises TimeoutError if it does not become free in time; what is done with it has no such limit."""
    async with asyncio.timeout_at(until):
        await lock.acquire()
    try:
        yield
    finally:
        lock.release()
