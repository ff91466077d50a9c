"""An adapter that receives what it sends: its echo is never taken for an answer (local echo, common practice, no source)."""

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import dataclass, field

import pytest

from custom_components.chargehand.core.modbus import Endpoint, Framing, Gateway, Line, NoAnswer
from tests.bench.framing import rtu, take_rtu
from tests.core.modbus.peers import serving, value_at

pytestmark = pytest.mark.usefixtures("socket_enabled")


@dataclass
class EchoingLine:
    """An inverter behind an adapter; `silent` lists functions that it leaves unanswered."""

    echoes: bool = True
    torn: bool = False
    """Whether everything comes byte by byte."""

    silent: set[int] = field(default_factory=set)
    written: dict[int, int] = field(default_factory=dict)

    async def feed(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        stream = bytearray()
        try:
            while data := await reader.read(1024):
                stream += data
                while frame := take_rtu(stream):
                    if self.echoes:
                        await self._send(writer, rtu(frame.unit, frame.pdu))
                    if frame.pdu[0] not in self.silent:
                        await self._send(writer, rtu(frame.unit, self._answer(frame.pdu)))
        except ConnectionError:
            pass
        finally:
            writer.close()

    async def _send(self, writer: asyncio.StreamWriter, data: bytes) -> None:
        for piece in [data[at : at + 1] for at in range(len(data))] if self.torn else [data]:
            writer.write(piece)
            await writer.drain()
            await asyncio.sleep(0.001 if self.torn else 0)

    def _answer(self, pdu: bytes) -> bytes:
        first, second = int.from_bytes(pdu[1:3]), int.from_bytes(pdu[3:5])
        match pdu[0]:
            case 3 | 4:
                values = b"".join(self.written.get(at, value_at(at)).to_bytes(2) for at in range(first, first + second))
                return bytes((pdu[0], len(values))) + values
            case 6:
                self.written[first] = second
                return pdu
            case 16:
                self.written |= {first + at: int.from_bytes(pdu[6 + 2 * at : 8 + 2 * at]) for at in range(second)}
                return pdu[:5]
        return pdu


@asynccontextmanager
async def line_to(peer: EchoingLine, timeout_ms: int = 3000) -> AsyncIterator[Line]:
    async with serving(peer.feed) as port:
        gateway = Gateway(Endpoint(host="127.0.0.1", port=port, framing=Framing.RTU_OVER_TCP))
        yield Line(gateway, unit=1, timeout_ms=timeout_ms)
        gateway.close()


@pytest.mark.parametrize("torn", [False, True])
async def test_reads_and_writes_go_as_without_an_echo(torn: bool) -> None:
    async with line_to(EchoingLine(torn=torn)) as line:
        for count in (1, 2, 60):
            assert await line.read("input", 100, count) == tuple(value_at(at) for at in range(100, 100 + count))
        await line.write(201, [55], function=6)
        await line.write(210, [1, 2, 3])
        assert await line.read("holding", 201, 1) == (55,)
        assert await line.read("holding", 210, 3) == (1, 2, 3)
        assert line.gateway.health.errors_by_kind.total() == 0


@pytest.mark.parametrize("torn", [False, True])
@pytest.mark.parametrize("function", [6, 16])
async def test_the_echo_of_a_write_is_not_its_answer(function: int, torn: bool) -> None:
    peer = EchoingLine(torn=torn, silent={function})
    async with line_to(peer, 500) as line:
        await line.read("holding", 201, 1)
        with pytest.raises(NoAnswer):
            await line.write(201, [55], function=function)
        assert not peer.written
        assert await line.read("holding", 201, 1) == (value_at(201),)


async def test_an_exchanged_adapter_without_an_echo_is_noticed() -> None:
    peer = EchoingLine()
    async with line_to(peer) as line:
        await line.read("holding", 201, 1)
        peer.echoes = False
        await line.read("holding", 201, 1)
        await line.write(201, [55], function=6)
        assert await line.read("holding", 201, 1) == (55,)
