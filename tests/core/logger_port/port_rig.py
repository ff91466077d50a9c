"""A logger port before a bench, and clients of it that share no code with it."""

import asyncio
import struct
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from dataclasses import dataclass, field
from ipaddress import ip_address
from typing import Any

from custom_components.chargehand.core.inverter import Inverter
from custom_components.chargehand.core.logger_port import LoggerGate, LoggerWrite, PortRules, PortServer
from custom_components.chargehand.core.modbus import Endpoint, Framing, Gateway
from custom_components.chargehand.core.registers import RegisterMap, load_map
from tests.bench.framing import mbap, rtu
from tests.benchmarks.rig import TEASEL
from tests.core.schedule.quick_inverter import make_inverter

LOOPBACK = frozenset({ip_address("127.0.0.1")})


@dataclass
class Port:
    """A logger port that is open, the inverter behind it, and what it has told of writes."""

    server: PortServer
    inverter: Inverter
    wrote: list[LoggerWrite] = field(default_factory=list)
    refused: list[LoggerWrite] = field(default_factory=list)

    @property
    def number(self) -> int:
        return self.server.port

    @property
    def counts(self) -> dict[str, int]:
        return self.server.gate.counts.as_dict()


@asynccontextmanager
async def logger_port(
    gateway_port: int, *, behind: Framing = Framing.TCP, register_map: RegisterMap | None = None, **rules: Any
) -> AsyncIterator[Port]:
    """A port on the unit behind a gateway on loopback; `behind` is the gateway's framing."""
    gateway = Gateway(Endpoint(host="127.0.0.1", port=gateway_port, framing=behind))
    inverter = make_inverter(register_map or load_map(TEASEL), gateway, None)
    async with served(inverter, **rules) as port:
        yield port
    gateway.close()


@asynccontextmanager
async def served(inverter: Inverter, changed: Callable[[], None] = lambda: None, **rules: Any) -> AsyncIterator[Port]:
    """A port before an inverter."""
    settled = PortRules(**{"port": 0, "hosts": LOOPBACK, "bind": "127.0.0.1", **rules})
    wrote: list[LoggerWrite] = []
    refused: list[LoggerWrite] = []
    gate = LoggerGate(inverter, settled, wrote=wrote.append, refused=refused.append)
    server = PortServer(gate, settled, inverter.line.unit, changed)
    await server.open()
    try:
        yield Port(server, inverter, wrote, refused)
    finally:
        await server.close()


class Client:
    """A data logger's connection, byte by byte; its frames are the bench's."""

    def __init__(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter, *, unit: int) -> None:
        self.reader = reader
        self.writer = writer
        self.unit = unit
        self._transaction = 0x1230
        self._given_up: set[int] = set()

    async def ask(self, pdu: bytes, *, unit: int | None = None) -> bytes:
        """Ask over Modbus TCP, and return the answer's PDU; the answer's transaction id has to be the request's."""
        self._transaction += 1
        transaction = self._transaction
        self.writer.write(mbap(transaction, self.unit if unit is None else unit, pdu))
        try:
            return await self.answer(transaction)
        except asyncio.CancelledError:
            self._given_up.add(transaction)
            raise

    async def answer(self, transaction: int) -> bytes:
        """Return the PDU of the next answer; that to a request which was given up may come before it."""
        while True:
            head = await self.reader.readexactly(7)
            pdu = await self.reader.readexactly(int.from_bytes(head[4:6]) - 1)
            if (came := int.from_bytes(head[:2])) not in self._given_up:
                assert (came, head[2:4]) == (transaction, b"\0\0")
                return pdu

    async def ask_rtu(self, pdu: bytes, answer_length: int) -> bytes:
        """Ask in RTU frames, and return the answer's PDU, of so many bytes."""
        self.writer.write(rtu(self.unit, pdu))
        frame = await self.reader.readexactly(answer_length + 3)
        assert frame == rtu(self.unit, frame[1:-2])
        return frame[1:-2]

    async def read(self, table: str, first: int, count: int = 1) -> tuple[int, ...]:
        """Return registers."""
        answer = await self.ask(read_pdu(table, first, count))
        assert answer[:2] == bytes((3 if table == "holding" else 4, 2 * count)), answer.hex()
        return struct.unpack(f">{count}H", answer[2:])

    async def write(self, first: int, *values: int) -> bytes:
        """Write with function 16, and return the answer's PDU."""
        return await self.ask(write_pdu(first, *values))

    async def ended(self) -> bool:
        """Return whether the other end has closed, without having sent anything more."""
        try:
            return await self.reader.read(1) == b""
        except ConnectionError:
            return True

    def leave(self) -> None:
        self.writer.close()


@asynccontextmanager
async def client(port: int, *, unit: int = 1) -> AsyncIterator[Client]:
    """A client's connection."""
    reader, writer = await asyncio.open_connection("127.0.0.1", port)
    yield Client(reader, writer, unit=unit)
    writer.close()


def read_pdu(table: str, first: int, count: int = 1) -> bytes:
    """Return a read's PDU."""
    return struct.pack(">BHH", 3 if table == "holding" else 4, first, count)


def write_pdu(first: int, *values: int) -> bytes:
    """Return the PDU of a write with function 16."""
    return struct.pack(f">BHHB{len(values)}H", 16, first, len(values), 2 * len(values), *values)
