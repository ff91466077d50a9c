"""The maker's data logger: a second client of the same gateway, which polls, and may write on request."""

import asyncio
import socket
import struct
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from tests.bench.framing import mbap, rtu
from tests.bench.front import Front

_ANSWER_WITHIN_S = 3.0
_LOOK_EVERY_S = 0.02


@dataclass(frozen=True, kw_only=True, slots=True)
class Polling:
    """What it polls; a count of 0 only keeps the connection."""

    every: float
    function: int
    first: int
    count: int
    unit: int


@dataclass(frozen=True, kw_only=True, slots=True)
class Overwrite:
    """A write (function 16) at a time of the inverter's clock; None = at once."""

    unit: int
    first: int
    values: tuple[int, ...]
    at: datetime | None


class DataLogger:
    """Connects while it polls or has something to write."""

    def __init__(self, *, front: Front, mbap: bool, clock: Callable[[int], datetime]) -> None:
        self.polls = 0
        self.answers = 0
        self.overwritten = 0
        self.polling: Polling | None = None
        self._front = front
        self._mbap = mbap
        self._clock = clock
        self._orders: list[Overwrite] = []
        self._next_poll = 0.0
        self._transaction = 0
        self._streams: tuple[asyncio.StreamReader, asyncio.StreamWriter] | None = None

    def poll(self, polling: Polling | None) -> None:
        """Poll from now on, or no longer."""
        self.polling, self._next_poll = polling, 0.0

    def overwrite(self, order: Overwrite) -> None:
        """Write at its time."""
        self._orders.append(order)

    async def run(self) -> None:
        """Poll and write to order for ever, and connect anew after a lost connection."""
        loop = asyncio.get_running_loop()
        while True:
            await asyncio.sleep(_LOOK_EVERY_S)
            due = [order for order in self._orders if order.at is None or self._clock(order.unit) >= order.at]
            try:
                if not (due or self.polling):
                    self._hang_up()
                    continue
                await self._connect()
                for order in due:
                    await self._write(order)
                if self.polling and self.polling.count and loop.time() >= self._next_poll:
                    self._next_poll = loop.time() + self.polling.every
                    await self._poll(self.polling)
            except OSError, EOFError, TimeoutError:
                self._hang_up()

    async def _poll(self, polling: Polling) -> None:
        self.polls += 1
        request = struct.pack(">BHH", polling.function, polling.first, polling.count)
        self.answers += await self._ask(polling.unit, request, 2 + 2 * polling.count)

    async def _write(self, order: Overwrite) -> None:
        count = len(order.values)
        request = struct.pack(f">BHHB{count}H", 16, order.first, count, 2 * count, *order.values)
        taken = await self._ask(order.unit, request, 5)
        self._orders.remove(order)
        self.overwritten += taken

    async def _ask(self, unit: int, pdu: bytes, answer_length: int) -> bool:
        """Return whether the answer is none of an exception. Raises OSError, EOFError or TimeoutError without one."""
        assert self._streams
        reader, writer = self._streams
        self._transaction = (self._transaction + 1) % 0x10000
        writer.write(mbap(self._transaction, unit, pdu) if self._mbap else rtu(unit, pdu))
        extra = 7 if self._mbap else 3
        async with asyncio.timeout(_ANSWER_WITHIN_S):
            head = await reader.readexactly(extra + 2)
            taken = not head[7 if self._mbap else 1] & 0x80
            if taken:
                await reader.readexactly(answer_length + extra - len(head))
        return taken

    async def _connect(self) -> None:
        if self._streams:
            return
        sock = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        sock.setblocking(False)
        sock.bind((self._front.host, 0))
        local_port = sock.getsockname()[1]
        self._front.logger_ports.add(local_port)
        try:
            await asyncio.get_running_loop().sock_connect(sock, (self._front.host, self._front.port))
        except OSError:
            self._front.logger_ports.discard(local_port)
            sock.close()
            raise
        self._streams = await asyncio.open_connection(sock=sock)

    def _hang_up(self) -> None:
        if self._streams:
            self._streams[1].close()
            self._streams = None
