"""A caller that gives up, or a gateway that is closed, at each stage of a request: the next one is served, and nothing is left."""

import asyncio
import socket
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress
from dataclasses import dataclass, field

import pytest

from custom_components.chargehand.core.modbus import Endpoint, Framing, Gateway, Line, NoConnection
from tests.bench.framing import mbap, rtu, take_mbap, take_rtu
from tests.core.modbus.peers import open_files, serving, value_at
from tests.waiting import until

pytestmark = pytest.mark.usefixtures("socket_enabled")

PAUSE_MS, ANSWER_SECONDS = 60, 0.04

STAGES = {"before its turn": 0.0, "in its turn's pause": 0.03, "before its answer": 0.08}
"""Seconds after a request was made, right after another one; on a busy machine it is a later stage, which must do as well."""


@dataclass
class Inverter:
    """It takes its time for an answer, and keeps what is written."""

    framing: Framing
    written: list[bytes] = field(default_factory=list)

    async def feed(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        stream = bytearray()
        take = take_mbap if self.framing is Framing.TCP else take_rtu
        with suppress(ConnectionError):
            while data := await reader.read(1024):
                stream += data
                while frame := take(stream):
                    await asyncio.sleep(ANSWER_SECONDS)
                    pdu = frame.pdu[:5]
                    if pdu[0] == 3:
                        pdu = b"\x03\x02" + value_at(int.from_bytes(pdu[1:3])).to_bytes(2)
                    else:
                        self.written.append(frame.pdu)
                    tcp = self.framing is Framing.TCP
                    writer.write(mbap(frame.transaction, frame.unit, pdu) if tcp else rtu(frame.unit, pdu))
        writer.close()


@asynccontextmanager
async def line_to(inverter: Inverter) -> AsyncIterator[Line]:
    """Yield a line whose connection is open, and check that nothing is left at the end."""
    async with serving(inverter.feed) as port:
        tasks, files = len(asyncio.all_tasks()), open_files()
        gateway = Gateway(Endpoint(host="127.0.0.1", port=port, framing=inverter.framing))
        line = Line(gateway, unit=1, timeout_ms=1000, pause_ms=PAUSE_MS)
        assert await line.read("holding", 7, 1) == (value_at(7),)
        yield line
        gateway.close()
        await until(lambda: (len(asyncio.all_tasks()), open_files()) == (tasks, files))


@pytest.mark.parametrize("framing", [Framing.TCP, Framing.RTU_OVER_TCP])
@pytest.mark.parametrize("seconds", STAGES.values(), ids=STAGES.keys())
async def test_one_that_gives_up_leaves_the_line_to_the_next_and_its_write_is_made_once(
    framing: Framing, seconds: float
) -> None:
    inverter = Inverter(framing)
    async with line_to(inverter) as line:
        for first, asking in enumerate([line.read("holding", 1, 1), line.write(1, [42]), line.write(2, [43])]):
            quitter = asyncio.create_task(asking)
            others = [asyncio.create_task(line.read("holding", 10 * first + at, 1)) for at in range(3)]
            await asyncio.sleep(seconds)
            quitter.cancel()
            with pytest.raises(asyncio.CancelledError):
                await quitter
            assert [await other for other in others] == [(value_at(10 * first + at),) for at in range(3)]
    assert inverter.written == [b"\x10\0\1\0\1\2\0\x2a", b"\x10\0\2\0\1\2\0\x2b"]


@pytest.mark.parametrize("seconds", STAGES.values(), ids=STAGES.keys())
async def test_all_that_wait_when_the_gateway_is_closed_fail_at_once(seconds: float) -> None:
    async with line_to(Inverter(Framing.TCP)) as line:
        waiting = [asyncio.create_task(line.read("holding", at, 1)) for at in range(20)]
        await asyncio.sleep(seconds)
        line.gateway.close()
        # One may be in its pause; none waits for an answer.
        async with asyncio.timeout(1):
            ended = await asyncio.gather(*waiting, return_exceptions=True)
        assert all(isinstance(error, NoConnection) for error in ended), ended


async def test_a_gateway_that_is_closed_while_it_connects_in_vain_ends_that_at_once() -> None:
    """Beyond its backlog, Linux leaves a connection to a listener unanswered."""
    with socket.create_server(("127.0.0.1", 0), backlog=0) as listener:
        port = listener.getsockname()[1]
        with socket.create_connection(("127.0.0.1", port)):
            tasks, files = len(asyncio.all_tasks()), open_files()
            gateway = Gateway(Endpoint(host="127.0.0.1", port=port, framing=Framing.TCP))
            waiting = [
                asyncio.create_task(Line(gateway, unit=1, timeout_ms=60_000).read("holding", 0, 1)) for _ in range(3)
            ]
            await asyncio.sleep(0.05)
            assert open_files() > files, "it connects"
            waiting[0].cancel()
            gateway.close()
            async with asyncio.timeout(5):
                ended = await asyncio.gather(*waiting, return_exceptions=True)
            assert [type(error) for error in ended] == [asyncio.CancelledError, NoConnection, NoConnection]
            assert (len(asyncio.all_tasks()), open_files()) == (tasks, files)
