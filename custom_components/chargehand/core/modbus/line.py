"""One unit on a gateway: all reads and writes of its registers pass here."""

import asyncio
from collections.abc import Awaitable, Callable, Collection, Sequence
from dataclasses import dataclass
from functools import partial
from struct import unpack_from

from pymodbus.pdu import ModbusPDU

from .errors import LineError, Missing, NoAnswer, Refused
from .expected_response import EXCEPTION_BIT
from .gateway import Answer, Gateway
from .health import LineHealth
from .line_observer import LineObserver
from .passed_request import PassedRequest, PassedResponse
from .requests import MASK_WRITE, READS, TABLES, WRITES_BY_FUNCTION

RETRIES = 2
"""How often a read is sent again before it counts as not answered."""

BUSY_MS = 3000
"""How long a read waits for a busy unit: some are busy for 50 ms to 3 s after a write (common practice, no source)."""

PASSED_TIMEOUT = 2.0
"""Longest wait in seconds for the answer to a read that another client asked for. 125 registers take 1.3 s at 2400 baud."""

SHORTEST_BUSY_PAUSE, LONGEST_BUSY_PAUSE = 0.05, 0.5
"""Seconds before a read from a busy unit is repeated: the first pause, doubled each time up to the longest."""


@dataclass(slots=True)
class LineCounts:
    """Requests that one operation took, for its receipt."""

    reads: int = 0
    writes: int = 0
    retries: int = 0


class Line:
    """Reads and writes the registers of one unit.

    Addresses count from 0, as on the wire; registers are unsigned 16-bit numbers. All methods raise LineError.
    """

    def __init__(
        self,
        gateway: Gateway,
        *,
        unit: int,
        timeout_ms: int = 3000,
        pause_ms: int = 0,
        retries: int = RETRIES,
        busy_ms: int = BUSY_MS,
    ) -> None:
        """Set up the line to `unit` behind `gateway`, with the register map's time-outs and pauses.

        A read that is answered with 05 or 06 is repeated for `busy_ms`; with 0 it fails at once.
        """
        self.gateway = gateway
        self.unit = unit
        self.health = LineHealth()
        self.last_seconds = 0.0
        """Time on the line of the last answered request, in seconds."""

        self._last_sent = 0.0
        self.observer: LineObserver | None = None
        """Learns of every read and every write; None: nobody does."""

        self._timeout = timeout_ms / 1000
        self._pause = pause_ms / 1000
        self._retries = retries
        self._busy = busy_ms / 1000
        self._busy_since: float | None = None
        """Since when the unit has only answered that it is busy, on the event loop's clock."""

    async def read(
        self,
        table: str,
        first: int,
        count: int,
        *,
        urgent: bool = False,
        counts: LineCounts | None = None,
        retries: int | None = None,
        answers: Collection[int] = (),
    ) -> tuple[int, ...]:
        """Read `count` registers from `first` of `table` (`input` or `holding`) in one request.

        `retries` replaces the line's own number unless it is None. With 0, a silent unit costs the others on its gateway one time-out.

        A read from a busy unit is repeated after a pause, in which the line is free for others. Reads that are not urgent share one such
        wait: a unit that is busy for hours does not get nine requests for every read.

        The answer to an urgent read is never an earlier one that has come again. If frames have no ids and the unit's last answer looks
        the same, the line reads something else first; `counts` does not include that request.
        A refusal with one of the exceptions in `answers` is raised too, but does not count as an error of the line.
        """
        if counts is not None:
            counts.reads += 1
        request = READS[table](address=first, count=count, dev_id=self.unit)
        send = partial(self._send, request, self._retries if retries is None else retries, urgent, counts)
        response = await self._record(self._send_until_not_busy(send, urgent=urgent, counts=counts), answers)
        registers = tuple(response.registers)
        # The decoder returns an empty PDU for a frame that has the id of this request but answers another.
        if response.function_code != request.function_code or len(registers) != count:
            raise NoAnswer(f"requested {count} registers, got an answer to another request", Missing.OTHER)
        if self.observer is not None:
            self.observer.take_read(table, first, registers, self._last_sent)
        return registers

    async def write(
        self,
        first: int,
        values: Sequence[int],
        *,
        function: int = 16,
        urgent: bool = True,
        counts: LineCounts | None = None,
    ) -> None:
        """Write holding registers from `first` on in one request: function 16, or 6 for a single value.

        The request is sent once. If no answer comes, the write may or may not have taken effect, so the caller reads before it decides.
        """
        if function == 6 and len(values) != 1:
            raise ValueError("function 6 writes one register at a time")
        await self._write(
            WRITES_BY_FUNCTION[function](address=first, registers=list(values), dev_id=self.unit), urgent, counts
        )

    async def write_mask(
        self, address: int, and_mask: int, or_mask: int, *, urgent: bool = True, counts: LineCounts | None = None
    ) -> None:
        """Change bits of one holding register with function 22: it becomes (itself AND `and_mask`) OR (`or_mask` AND NOT `and_mask`).

        The unit itself combines the bits, so bits that another master changes meanwhile stay as they are. A unit without this function
        answers 01. The request is sent once, and its answer must repeat it (Modbus Application Protocol V1.1b3, 6.16).
        """
        if not (0 <= and_mask <= 0xFFFF and 0 <= or_mask <= 0xFFFF):
            raise ValueError("a mask has 16 bits")
        await self._write(
            MASK_WRITE(address=address, and_mask=and_mask, or_mask=or_mask, dev_id=self.unit), urgent, counts
        )

    async def pass_on(self, pdu: bytes, *, changes: bool) -> bytes:
        """Send another client's request once, as it stands, and return the PDU of the answer, which may be an exception.

        `changes` says whether it may change registers. It takes its turn with polls. It is not recorded in the line's health: what another
        client asks in vain is no fault of the line. Raises LineError if no answer comes.
        """
        timeout = self._timeout if changes else min(self._timeout, PASSED_TIMEOUT)
        request = PassedRequest(pdu, self.unit)
        if changes:
            self._observe_write()
        try:
            answer = await self.gateway.request(request, timeout=timeout, retries=0, pause=self._pause, urgent=False)
        except Refused as refusal:
            return bytes((pdu[0] | EXCEPTION_BIT, refusal.code))
        finally:
            if changes:
                self._observe_write()
        response = answer.response
        if not isinstance(response, PassedResponse):
            raise NoAnswer("a passed request got an answer to another request", Missing.OTHER)
        if request.is_read and self.observer is not None:
            registers = unpack_from(f">{request.count}H", response.pdu, 2)
            self.observer.take_read(TABLES[pdu[0]], request.address, registers, answer.sent)
        return response.pdu

    def _observe_write(self) -> None:
        if self.observer is not None:
            self.observer.take_write()

    async def _write(self, request: ModbusPDU, urgent: bool, counts: LineCounts | None) -> None:
        if counts is not None:
            counts.writes += 1
        self._observe_write()
        try:
            response = await self._record(self._send(request, 0, urgent, counts))
        finally:
            self._observe_write()
        # The decoder has compared the answer with the request, and returns an empty PDU for one that answers another.
        if response.function_code != request.function_code:
            raise NoAnswer(f"the write of register {request.address} got an answer to another request", Missing.OTHER)

    async def _send_until_not_busy(
        self, send: Callable[[], Awaitable[Answer]], *, urgent: bool, counts: LineCounts | None
    ) -> Answer:
        """Send a request, and send it again while the unit is busy, for as long as this line waits for that. Raises LineError."""
        loop = asyncio.get_running_loop()
        until: float | None = None
        pause = SHORTEST_BUSY_PAUSE
        while True:
            try:
                answer = await send()
            except Refused as refusal:
                now = loop.time()
                if not refusal.busy:
                    self._busy_since = None
                    raise
                if self._busy_since is None:
                    self._busy_since = now
                if until is None:
                    until = (now if urgent else self._busy_since) + self._busy
                if now >= until:
                    raise
                # The last attempt is made when the time is over, not before.
                await asyncio.sleep(min(pause, until - now))
                pause = min(2 * pause, LONGEST_BUSY_PAUSE)
                self._count_retries(1, counts)
            else:
                self._busy_since = None
                return answer

    async def _send(self, request: ModbusPDU, retries: int, urgent: bool, counts: LineCounts | None) -> Answer:
        """Send one request, with retries if no answer comes. Raises LineError."""
        try:
            answer = await self.gateway.request(
                request,
                timeout=self._timeout,
                retries=retries,
                pause=self._pause,
                urgent=urgent,
            )
        except NoAnswer:
            self._count_retries(retries, counts)
            raise
        self._count_retries(answer.retries, counts)
        return answer

    def _count_retries(self, times: int, counts: LineCounts | None) -> None:
        self.health.retries += times
        if counts is not None:
            counts.retries += times

    async def _record(self, request: Awaitable[Answer], answers: Collection[int] = ()) -> ModbusPDU:
        """Wait for a request, record how it ended, and return its response."""
        loop = asyncio.get_running_loop()
        try:
            answer = await request
        except LineError as failure:
            if isinstance(failure, Refused) and failure.code in answers:
                raise
            self.health.record(loop.time(), 0.0, type(failure).__name__)
            raise
        self.last_seconds, self._last_sent = answer.seconds, answer.sent
        self.health.record(loop.time(), answer.seconds, None)
        return answer.response
