"""Other ends of a line that the bench is not: real servers on loopback, and a serial line that is only slow."""

import asyncio
import random
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager
from dataclasses import dataclass, field
from pathlib import Path

from tests.bench.framing import Damaged, rtu, take_rtu

type Serve = Callable[[asyncio.StreamReader, asyncio.StreamWriter], Awaitable[None]]


def value_at(address: int) -> int:
    """Return the value of a register of these peers; no two are the same."""
    return address * 7 + 1


def open_files() -> int:
    """Return how many files and sockets this process has open."""
    return len(list(Path("/proc/self/fd").iterdir()))


@dataclass
class SlowLine:
    """A transparent gateway's line with one slow inverter: answers are in order, and go to whoever is connected by then."""

    slow_share: float
    slow: tuple[float, float]
    """Seconds that an answer takes when it is slow."""

    forgets: float = 0.3
    """Seconds after which a request that waits behind a slow one is dropped, as gateways do; so no answer is later than both."""

    port: int = 0
    late: int = 0
    _clients: set[asyncio.StreamWriter] = field(default_factory=set)
    _requests: asyncio.Queue[tuple[float, int, bytes]] = field(default_factory=asyncio.Queue)
    _random: random.Random = field(default_factory=lambda: random.Random(7))

    async def feed(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        self._clients.add(writer)
        stream = bytearray()
        try:
            while data := await reader.read(1024):
                stream += data
                try:
                    while frame := take_rtu(stream):
                        self._requests.put_nowait((asyncio.get_running_loop().time(), frame.unit, frame.pdu))
                except Damaged:
                    continue
        except ConnectionError:
            pass
        finally:
            self._clients.discard(writer)
            writer.close()

    async def answer(self) -> None:
        while True:
            came, unit, pdu = await self._requests.get()
            if asyncio.get_running_loop().time() - came > self.forgets:
                continue
            slow = self._random.random() < self.slow_share
            self.late += slow
            await asyncio.sleep(self._random.uniform(*self.slow) if slow else 0.001)
            answer = self._pdu(pdu)
            for client in self._clients:
                client.write(rtu(unit, answer))

    def _pdu(self, pdu: bytes) -> bytes:
        count = int.from_bytes(pdu[3:5])
        first = int.from_bytes(pdu[1:3])
        values = b"".join(value_at(address).to_bytes(2) for address in range(first, first + count))
        return bytes((pdu[0], len(values))) + values


@asynccontextmanager
async def slow_line(line: SlowLine) -> AsyncIterator[SlowLine]:
    """Run it on loopback."""
    async with serving(line.feed) as port, asyncio.TaskGroup() as group:
        line.port = port
        answering = group.create_task(line.answer())
        yield line
        answering.cancel()


@asynccontextmanager
async def serving(serve: Serve) -> AsyncIterator[int]:
    """Run a server on loopback and yield its port."""
    server = await asyncio.start_server(serve, "127.0.0.1", 0)
    yield server.sockets[0].getsockname()[1]
    server.close()
    server.close_clients()
