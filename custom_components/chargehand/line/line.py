"""One unit on a gateway: the only way that registers are read or written."""

import asyncio
from collections.abc import Sequence
from dataclasses import dataclass

from pymodbus.pdu import ModbusPDU

from .errors import LineError, NoAnswer
from .gateway import Gateway
from .health import LineHealth
from .requests import READS, WRITES_BY_FUNCTION

RETRIES = 2
"""How often a read is sent again before it counts as not answered."""


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
        self, gateway: Gateway, *, unit: int, timeout_ms: int = 3000, pause_ms: int = 0, retries: int = RETRIES
    ) -> None:
        """Speak to `unit` behind `gateway`; waits and pauses as the register map says."""
        self.gateway = gateway
        self.unit = unit
        self.health = LineHealth()
        self.last_seconds = 0.0
        """Time on the line of the request answered last, in s."""

        self._timeout = timeout_ms / 1000
        self._pause = pause_ms / 1000
        self._retries = retries

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
        """
        if counts is not None:
            counts.reads += 1
        request = READS[table](address=first, count=count, dev_id=self.unit)
        response = await self._request(request, self._retries if retries is None else retries, urgent, counts)
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
        if counts is not None:
            counts.writes += 1
        request = WRITES_BY_FUNCTION[function](address=first, registers=list(values), dev_id=self.unit)
        response = await self._request(request, 0, urgent, counts)
        if response.function_code != function or response.address != first:
            raise NoAnswer(f"the write of register {first} got an answer to another request")

    async def _request(self, request: ModbusPDU, retries: int, urgent: bool, counts: LineCounts | None) -> ModbusPDU:
        loop = asyncio.get_running_loop()
        try:
            response, seconds = await self.gateway.request(
                request,
                timeout=self._timeout,
                retries=retries,
                pause=self._pause,
                urgent=urgent,
            )
        except LineError as failure:
            self.health.record(loop.time(), 0.0, type(failure).__name__)
            if counts is not None and isinstance(failure, NoAnswer):
                counts.retries += retries
            raise
        self.last_seconds = seconds
        self.health.record(loop.time(), seconds, None)
        if counts is not None:
            counts.retries += response.retries
        return response
