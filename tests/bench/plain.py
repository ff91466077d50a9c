"""A Modbus TCP server on loopback with just the registers that a test gives it, for tests on register maps of their own.

Functions 3, 4, 6 and 16 (Modbus Application Protocol V1.1b3, 6). A register that it was not given is refused with exception 2.
"""

import asyncio
from collections.abc import AsyncIterator, Callable, Mapping
from contextlib import asynccontextmanager, suppress
from dataclasses import dataclass, field

from .framing import Damaged, mbap, take_mbap

INPUT, HOLDING = "input", "holding"
_TABLES = {3: HOLDING, 4: INPUT, 6: HOLDING, 16: HOLDING}
_WRITES = {6, 16}
_NOT_THERE, _NOT_KNOWN = 2, 1


@dataclass(frozen=True, slots=True)
class Request:
    """One request: its function, the registers that it touches, and the values that it writes."""

    function: int
    first: int
    values: tuple[int, ...]
    count: int

    @property
    def table(self) -> str:
        """Which table it touches."""
        return _TABLES[self.function]

    @property
    def writes(self) -> bool:
        """Whether it changes something."""
        return self.function in _WRITES

    def touches(self, table: str, register: int) -> bool:
        """Return whether a register is among its own."""
        return self.table == table and self.first <= register < self.first + self.count


@dataclass
class Plain:
    """The registers by table and address, and every request that came."""

    registers: dict[str, dict[int, int]]
    port: int = 0
    requests: list[Request] = field(default_factory=list)
    silent: Callable[[Request], bool] = lambda _request: False
    """Whether a request is carried out and never answered."""

    refuses: Callable[[Request], int | None] = lambda _request: None
    """The exception that a request is refused with, if any."""

    after: Callable[[Request], None] = lambda _request: None
    """Called once a request was carried out: what changes by itself then."""

    @property
    def written(self) -> list[tuple[int, tuple[int, ...]]]:
        """Every write so far: its first register and its values."""
        return [(request.first, request.values) for request in self.requests if request.writes]

    async def talk(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        """Serve one client."""
        stream = bytearray()
        with suppress(ConnectionError, Damaged):
            while data := await reader.read(1024):
                stream += data
                while frame := take_mbap(stream):
                    answer = self._answer(frame.pdu)
                    if answer is not None:
                        writer.write(mbap(frame.transaction, frame.unit, answer))
        writer.close()

    def _answer(self, pdu: bytes) -> bytes | None:
        function = pdu[0]
        if function not in _TABLES:
            return bytes((function | 0x80, _NOT_KNOWN))
        request = _request(pdu)
        self.requests.append(request)
        code = self.refuses(request)
        held = self.registers[request.table]
        if code is None and not held.keys() >= set(range(request.first, request.first + request.count)):
            code = _NOT_THERE
        if code is not None:
            return bytes((function | 0x80, code))
        for address, value in enumerate(request.values, start=request.first):
            held[address] = value
        values = b"".join(held[request.first + index].to_bytes(2) for index in range(request.count))
        self.after(request)
        if self.silent(request):
            return None
        return pdu[:5] if request.writes else bytes((function, len(values))) + values


def _request(pdu: bytes) -> Request:
    function, first, second = pdu[0], int.from_bytes(pdu[1:3]), int.from_bytes(pdu[3:5])
    if function == 6:
        return Request(function, first, (second,), 1)
    values = tuple(int.from_bytes(pdu[at : at + 2]) for at in range(6, len(pdu), 2)) if function == 16 else ()
    return Request(function, first, values, second)


@asynccontextmanager
async def plain_device(
    *, holding: Mapping[int, int] | None = None, inputs: Mapping[int, int] | None = None
) -> AsyncIterator[Plain]:
    """Serve these registers until the context ends."""
    device = Plain({HOLDING: dict(holding or {}), INPUT: dict(inputs or {})})
    server = await asyncio.start_server(device.talk, "127.0.0.1", 0)
    device.port = server.sockets[0].getsockname()[1]
    yield device
    server.close()
    server.close_clients()
