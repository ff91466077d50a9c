"""One unit on a gateway: the only way that registers are read or written."""

import asyncio
from collections.abc import Awaitable, Callable, Sequence
from dataclasses import dataclass
from functools import partial

from pymodbus.pdu import ModbusPDU

from .errors import LineError, NoAnswer, Refused
from .gateway import Answer, Gateway
from .health import LineHealth
from .requests import MASK_WRITE, READS, WRITES_BY_FUNCTION

RETRIES = 2
"""How often a read is sent again before it counts as not answered."""

BUSY_MS = 3000
"""How long a read waits for a busy unit: after a write some are busy for 50 ms to 3 s (common practice, no source)."""

SHORTEST_BUSY_PAUSE, LONGEST_BUSY_PAUSE = 0.05, 0.5
"""Seconds before a busy unit is asked again: the first pause, doubled each time up to the longest."""


@dataclass(slots=True)
class LineCounts:
    """Requests that one piece of work took; a receipt shows them."""

    reads: int = 0
    writes: int = 0
    retries: int = 0


class Line:
    """Reads and writes the registers of one unit.

    Addresses are as on the wire, counted from 0; registers are unsigned 16-bit numbers. All methods raise `LineError`.
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
        """Speak to `unit` behind `gateway`; waits and pauses as the register map says.

        A read that is answered with 05 or 06 is repeated for `busy_ms`; 0 lets it fail at once.
        """
        self.gateway = gateway
        self.unit = unit
        self.health = LineHealth()
        self.last_seconds = 0.0
        """Time on the line of the request answered last, in s."""

        self._timeout = timeout_ms / 1000
        self._pause = pause_ms / 1000
        self._retries = retries
        self._busy = busy_ms / 1000
        self._busy_since: float | None = None
        """When the unit began to answer nothing but that it is busy, on the event loop's clock."""

    async def read(
        self,
        table: str,
        first: int,
        count: int,
        *,
        urgent: bool = False,
        counts: LineCounts | None = None,
        retries: int | None = None,
    ) -> tuple[int, ...]:
        """Read `count` registers from `first` of `table` (`input` or `holding`) in one request.

        `retries` is the line's own number where it is None; 0 only looks whether the unit is there, and costs the other units on
        its gateway one time-out where it is not.

        A busy unit is asked again after a pause, in which the line is free for others. Reads that are not urgent wait for it only once
        altogether: one that is busy for hours is not asked nine times for every read.

        An urgent read's answer is not an earlier one that has come again. Where frames have no ids and the unit's last answer looks the
        same, something else is read first; that takes another request, which is not counted.
        """
        if counts is not None:
            counts.reads += 1
        request = READS[table](address=first, count=count, dev_id=self.unit)
        asked = partial(self._asked, request, self._retries if retries is None else retries, urgent, counts)
        response = await self._recorded(self._until_not_busy(asked, urgent=urgent, counts=counts))
        registers = tuple(response.registers)
        # An answer by its id that answers something else comes as an empty one.
        if response.function_code != request.function_code or len(registers) != count:
            raise NoAnswer(f"asked {count} registers, got an answer to another request")
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

        It is sent once. An answer that does not come says nothing about the registers, so the caller reads before deciding.
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

        The unit does that itself, so bits that somebody else changes meanwhile stay as they are. A unit without this function answers 01.
        Like any write it is sent once, and its answer must repeat it (Modbus Application Protocol V1.1b3, 6.16).
        """
        if not (0 <= and_mask <= 0xFFFF and 0 <= or_mask <= 0xFFFF):
            raise ValueError("a mask has 16 bits")
        await self._write(
            MASK_WRITE(address=address, and_mask=and_mask, or_mask=or_mask, dev_id=self.unit), urgent, counts
        )

    async def _write(self, request: ModbusPDU, urgent: bool, counts: LineCounts | None) -> None:
        if counts is not None:
            counts.writes += 1
        response = await self._recorded(self._asked(request, 0, urgent, counts))
        # The frame was already compared with the request; an answer by its id that answers something else comes as an empty one.
        if response.function_code != request.function_code:
            raise NoAnswer(f"the write of register {request.address} got an answer to another request")

    async def _until_not_busy(
        self, asked: Callable[[], Awaitable[Answer]], *, urgent: bool, counts: LineCounts | None
    ) -> Answer:
        """Send a request, and again while the unit answers that it is busy, for as long as this line waits for that. Raises LineError."""
        loop = asyncio.get_running_loop()
        until: float | None = None
        pause = SHORTEST_BUSY_PAUSE
        while True:
            try:
                answer = await asked()
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
                # The last try is made when the time is over, not before.
                await asyncio.sleep(min(pause, until - now))
                pause = min(2 * pause, LONGEST_BUSY_PAUSE)
                self._sent_again(1, counts)
            else:
                self._busy_since = None
                return answer

    async def _asked(self, request: ModbusPDU, retries: int, urgent: bool, counts: LineCounts | None) -> Answer:
        """Make one request, with its repeats where no answer comes. Raises LineError."""
        try:
            answer = await self.gateway.request(
                request,
                timeout=self._timeout,
                retries=retries,
                pause=self._pause,
                urgent=urgent,
            )
        except NoAnswer:
            self._sent_again(retries, counts)
            raise
        self._sent_again(answer.retries, counts)
        return answer

    def _sent_again(self, times: int, counts: LineCounts | None) -> None:
        self.health.retries += times
        if counts is not None:
            counts.retries += times

    async def _recorded(self, asked: Awaitable[Answer]) -> ModbusPDU:
        """Keep how a request ended, whatever it took."""
        loop = asyncio.get_running_loop()
        try:
            answer = await asked
        except LineError as failure:
            self.health.record(loop.time(), 0.0, type(failure).__name__)
            raise
        self.last_seconds = answer.seconds
        self.health.record(loop.time(), answer.seconds, None)
        return answer.response
