"""A thousand broken connections leave no task, no socket and no waiting answer behind."""

import asyncio
import socket
from contextlib import suppress

import pytest

from custom_components.chargehand.core.modbus import Endpoint, Framing, Gateways, Line, LineError
from tests.bench.framing import mbap, take_mbap
from tests.core.modbus.peers import open_files, serving
from tests.waiting import until

CYCLES = 1000
ENDS = ("answered", "dropped", "reset", "silent", "half", "garbage")
"""How each connection's request ends; then the connection is closed from one side or the other."""


@pytest.mark.usefixtures("socket_enabled")
async def test_a_thousand_broken_connections_leave_nothing_behind() -> None:
    seen = 0

    async def serve(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        nonlocal seen
        stream = bytearray()
        try:
            while data := await reader.read(1024):
                stream += data
                while frame := take_mbap(stream):
                    end = ENDS[seen % len(ENDS)]
                    seen += 1
                    whole = mbap(frame.transaction, frame.unit, bytes((3, 2, 0, 42)))
                    match end:
                        case "answered":
                            writer.write(whole)
                            await writer.drain()
                            return
                        case "dropped":
                            return
                        case "reset":
                            writer.transport.abort()
                            return
                        case "half":
                            writer.write(whole[:-1])
                        case "garbage":
                            writer.write(b"HTTP/1.1 400 Bad Request\r\n\r\n")
        except ConnectionError:
            pass
        finally:
            writer.close()

    async with serving(serve) as port:
        gateways = Gateways()
        before = None
        answered = 0
        # After some, files and tasks that stay for good are there.
        for cycle in range(CYCLES + 12):
            if cycle == 12:
                await asyncio.sleep(0.2)
                before = len(asyncio.all_tasks()), open_files()
            gateway = gateways.take(Endpoint(host="127.0.0.1", port=port, framing=Framing.TCP))
            line = Line(gateway, unit=1, timeout_ms=40, retries=0)
            with suppress(LineError):
                answered += await line.read("holding", 0, 1) == (42,)
            gateways.release(gateway)
        for _ in range(200):
            await asyncio.sleep(0.01)
            if (len(asyncio.all_tasks()), open_files()) == before:
                break
        assert (len(asyncio.all_tasks()), open_files()) == before
        # A busy machine is late now and then; what counts is that every kind of end was met.
        assert answered > CYCLES / len(ENDS) / 2
        assert seen > CYCLES / 2


@pytest.mark.long
@pytest.mark.usefixtures("socket_enabled")
async def test_a_gateway_that_no_longer_takes_what_it_is_sent_keeps_no_connection_once_it_is_closed() -> None:
    """It answers by its requests' ids, so that its connection is kept, until the system's buffers are full."""
    loop = asyncio.get_running_loop()
    with socket.socket() as listener:
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 1)
        listener.bind(("127.0.0.1", 0))
        listener.listen()
        listener.setblocking(False)
        gateway = Gateways().take(Endpoint(host="127.0.0.1", port=listener.getsockname()[1], framing=Framing.TCP))
        line = Line(gateway, unit=1, timeout_ms=1000)
        reading = asyncio.create_task(line.read("holding", 0, 1))
        peer, _ = await loop.sock_accept(listener)
        with peer:
            request = await loop.sock_recv(peer, 12)
            await loop.sock_sendall(peer, request[:5] + b"\x05\x01\x03\x02\0\x2a")
            assert await reading == (42,)
            impatient = Line(gateway, unit=1, timeout_ms=1)
            for _ in range(16_000):
                with suppress(LineError):
                    await impatient.write(0, [0] * 123)
            files = open_files()
            gateway.close()
            await until(lambda: open_files() == files - 1)
