"""What is no gateway at all: each ends in time, with the right error, and leaves nothing behind."""

import asyncio
import logging
import os
import re
import secrets
import socket
import struct
import sys
import threading
import tracemalloc
from asyncio.subprocess import PIPE
from collections.abc import AsyncIterator, Iterator
from contextlib import asynccontextmanager, contextmanager, suppress
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from itertools import cycle
from pathlib import Path

import pytest

from custom_components.chargehand.core.modbus import (
    Endpoint,
    Framing,
    Gateway,
    Line,
    LineError,
    Lost,
    Missing,
    NoAnswer,
    NoConnection,
)
from tests.bench.framing import mbap, rtu
from tests.core.modbus.peers import Serve, open_files, serving
from tests.waiting import until

pytestmark = pytest.mark.usefixtures("socket_enabled")

TIMEOUT_MS = 200
BOTH = pytest.mark.parametrize("framing", [Framing.TCP, Framing.RTU_OVER_TCP])
MOST_HELD = 4 * 1024 * 1024
"""Bytes of memory in use at once beyond those before: sixty times what is received before the connection is closed."""


@asynccontextmanager
async def clean(caplog: pytest.LogCaptureFixture) -> AsyncIterator[None]:
    """Check that at most one line is logged, that no task or socket is left, and that memory was bounded."""
    tasks, files = len(asyncio.all_tasks()), open_files()
    # The loop's debug mode keeps the source of all that runs, and reports every task that a busy machine has held up.
    asyncio.get_running_loop().set_debug(False)
    # Python's own account: what the process holds of the machine's memory also moves with what other tests have left.
    tracemalloc.start()
    try:
        with caplog.at_level(logging.WARNING):
            yield
        await asyncio.sleep(0.05)
        most_held = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    lines = [record.getMessage() for record in caplog.records if record.levelno >= logging.WARNING]
    assert len(lines) <= 1, lines
    assert len(asyncio.all_tasks()) <= tasks
    assert open_files() <= files
    assert most_held < MOST_HELD


async def ask(port: int, framing: Framing, first: int = 0, *, host: str = "127.0.0.1") -> LineError | None:
    """Return the error of one read, or None. It may take a time-out for connecting, one for the answer, and 3 s for a busy machine."""
    gateway = Gateway(Endpoint(host=host, port=port, framing=framing))
    try:
        async with asyncio.timeout(2 * TIMEOUT_MS / 1000 + 3):
            await Line(gateway, unit=1, timeout_ms=TIMEOUT_MS).read("holding", first, 4, retries=0)
    except LineError as error:
        return error
    finally:
        gateway.close()
    return None


UNRESOLVED = """
import asyncio, sys
from custom_components.chargehand.core.modbus import Endpoint, Framing, Gateway, Line, NoConnection

async def main():
    gateway = Gateway(Endpoint(host=sys.argv[1], port=502, framing=Framing.TCP))
    try:
        await Line(gateway, unit=1, timeout_ms=2000).read("holding", 0, 4)
    except NoConnection as error:
        print(error)

asyncio.run(main())
"""


@pytest.mark.parametrize("host", ["no-such-host.invalid", "alder..mill"])
async def test_a_host_that_does_not_resolve(host: str) -> None:
    """In a process of its own: the test tools keep this one from resolving names.

    RFC 2606 keeps .invalid from existing; no label of a name is empty (RFC 1035, 2.3.1).
    """
    process = await asyncio.create_subprocess_exec(
        sys.executable, "-c", UNRESOLVED, host, cwd=Path(__file__).parents[3], stdout=PIPE, stderr=PIPE
    )
    output, logged = await process.communicate()
    assert output.decode() == f"no connection to {host}:502\n", logged.decode()
    assert not logged


@BOTH
async def test_a_closed_port(framing: Framing, unused_tcp_port: int, caplog: pytest.LogCaptureFixture) -> None:
    async with clean(caplog):
        assert isinstance(await ask(unused_tcp_port, framing), NoConnection)


@pytest.mark.parametrize("linger", [b"", struct.pack("ii", 1, 0)], ids=["ended", "reset"])
async def test_one_that_drops_what_it_accepts_is_no_closed_port_however_late_that_is_seen(linger: bytes) -> None:
    """Closed with a linger of 0 s, a connection ends by a reset, which a busy machine finds where it looks whether it stands."""
    with socket.create_server(("127.0.0.1", 0)) as listener:

        def serve() -> None:
            peer, _ = listener.accept()
            if linger:
                peer.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, linger)
            peer.close()

        thread = threading.Thread(target=serve)
        thread.start()
        asking = asyncio.create_task(ask(listener.getsockname()[1], Framing.TCP))
        await asyncio.sleep(0)
        thread.join()
        error = await asking
    assert isinstance(error, NoConnection)
    assert error.lost is Lost.DROPPED


class _Silenced(BaseHTTPRequestHandler):
    def log_message(self, *_: object) -> None:
        """Say nothing."""


@BOTH
@pytest.mark.parametrize("first", [0, 0x0A0A], ids=["no line ends", "line ends"])
async def test_a_web_server(
    framing: Framing, first: int, caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    """To it, address 0A0A ends a line: it answers 400 and closes; without one it waits for more."""
    # An id drawn by lot could end a line too.
    monkeypatch.setattr(secrets, "randbelow", lambda _: 0)
    with ThreadingHTTPServer(("127.0.0.1", 0), _Silenced) as server:
        thread = threading.Thread(target=server.serve_forever, args=(0.02,))
        thread.start()
        async with clean(caplog):
            error = await ask(server.server_address[1], framing, first)
            await asyncio.sleep(0.05)
        server.shutdown()
        thread.join()
    assert isinstance(error, NoAnswer | NoConnection)
    if not first:
        assert isinstance(error, NoAnswer)


@contextmanager
def flood(block: bytes, first: bytes = b"", *, wait_for: int = 0) -> Iterator[tuple[int, list[int]]]:
    """Run a server in a thread that answers `first` to the first request, and then sends `block` as fast as it can."""
    sent: list[int] = []
    listener = socket.create_server(("127.0.0.1", 0))

    def serve() -> None:
        while True:
            try:
                peer, _ = listener.accept()
            except OSError:
                return
            with peer:
                try:
                    if wait_for:
                        request = peer.recv(wait_for)
                        peer.sendall(request[:2] + first if first else b"")
                    sent.append(0)
                    while True:
                        peer.sendall(block)
                        sent[-1] += len(block)
                except OSError:
                    continue

    thread = threading.Thread(target=serve)
    thread.start()
    try:
        yield listener.getsockname()[1], sent
    finally:
        listener.shutdown(socket.SHUT_RDWR)
        listener.close()
        thread.join()


BLOCKS = {
    "noise": os.urandom(1 << 16),
    "zeros": bytes(1 << 16),
    "frames of other ids": mbap(0xFFF0, 1, b"\x03\x02\0\x01") * 4000,
    "frames of another unit": rtu(2, b"\x03\x08" + bytes(8)) * 4000,
    "starts of the answer without an end": b"\x01\x03\x08" * 20_000,
    "starts of an exception": b"\x01\x83" * 30_000,
}


@BOTH
@pytest.mark.parametrize("block", BLOCKS.values(), ids=BLOCKS.keys())
async def test_one_that_never_stops_sending(framing: Framing, block: bytes, caplog: pytest.LogCaptureFixture) -> None:
    beats = 0

    async def beat() -> None:
        nonlocal beats
        while True:
            await asyncio.sleep(0.005)
            beats += 1

    with flood(block) as (port, sent):
        async with clean(caplog):
            beating = asyncio.create_task(beat())
            errors = [await ask(port, framing) for _ in range(3)]
            await asyncio.sleep(0.1)
            beating.cancel()
    print(f"{sum(sent)} bytes on {len(sent)} connections, {beats} beats")
    assert all(isinstance(error, NoAnswer) and error.missing is Missing.NOISE for error in errors), errors
    assert beats >= 3, "the event loop went on"


async def test_the_log_is_not_flooded_with_all_that_one_sends_at_debug(caplog: pytest.LogCaptureFixture) -> None:
    with (
        flood(BLOCKS["noise"]) as (port, _),
        caplog.at_level(logging.DEBUG, logger="custom_components.chargehand.core.modbus"),
    ):
        assert isinstance(await ask(port, Framing.TCP), NoAnswer)
    came = [text for text in caplog.messages if " > " in text]
    assert came
    assert max(map(len, came)) < 4000
    assert re.search(r" and \d+ bytes more$", max(came, key=len))


async def test_one_that_answers_and_then_never_stops_is_cut_off_between_requests(
    caplog: pytest.LogCaptureFixture,
) -> None:
    with flood(BLOCKS["noise"], b"\0\0\0\x05\x01\x03\x02\0\x2a", wait_for=12) as (port, sent):
        async with clean(caplog):
            gateway = Gateway(Endpoint(host="127.0.0.1", port=port, framing=Framing.TCP))
            line = Line(gateway, unit=1, timeout_ms=TIMEOUT_MS)
            assert await line.read("holding", 0, 1) == (42,)
            await asyncio.sleep(0.2)
            flooded = sent[-1]
            await asyncio.sleep(0.1)
            assert sent[-1] == flooded, "cut off"
            assert gateway.health.unsolicited_bytes(asyncio.get_running_loop().time()) >= 0x10000
            assert await line.read("holding", 0, 1) == (42,), "and connected anew"
            gateway.close()


async def mute(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
    with suppress(ConnectionError):
        await reader.read()
    writer.close()


def trickle(stream: bytes) -> Serve:
    async def serve(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        reading = asyncio.create_task(mute(reader, writer))
        for byte in cycle(stream):
            if reading.done():
                break
            writer.write(bytes((byte,)))
            await asyncio.sleep(0.02)

    return serve


SLOW: dict[str, Serve] = {
    "says nothing": mute,
    "a byte now and then": trickle(b"\x01"),
    "absurd lengths": trickle(b"\0\x01\0\0\xff\xff\x01\x03"),
    "no length": trickle(b"\0\x01\0\0\0\0\x01\x03"),
}


@BOTH
@pytest.mark.parametrize("serve", SLOW.values(), ids=SLOW.keys())
async def test_one_that_is_no_use(framing: Framing, serve: Serve, caplog: pytest.LogCaptureFixture) -> None:
    async with serving(serve) as port, clean(caplog):
        assert isinstance(await ask(port, framing), NoAnswer)
        await asyncio.sleep(0.1)


async def test_a_gateway_that_is_closed_while_it_connects_or_waits_leaves_nothing(
    caplog: pytest.LogCaptureFixture,
) -> None:
    async with serving(mute) as port:
        for pause in (0.0, 0.0001, 0.001, 0.02):
            async with clean(caplog):
                gateway = Gateway(Endpoint(host="127.0.0.1", port=port, framing=Framing.TCP))
                asking = asyncio.create_task(Line(gateway, unit=1).read("holding", 0, 1))
                await asyncio.sleep(pause)
                gateway.close()
                with pytest.raises(NoConnection):
                    await asking


async def test_a_thousand_connections_leave_nothing(caplog: pytest.LogCaptureFixture) -> None:
    async def serve(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        request = await reader.read(12)
        writer.write(request[:5] + b"\x05\x01\x03\x02\0\x2a")
        writer.close()

    async with serving(serve) as port, clean(caplog):
        gateway = Gateway(Endpoint(host="127.0.0.1", port=port, framing=Framing.TCP))
        line = Line(gateway, unit=1, timeout_ms=1000)
        for _ in range(1000):
            try:
                assert await line.read("holding", 0, 1) == (42,)
            except NoConnection:
                continue
        gateway.close()
        loop = asyncio.get_running_loop()
        await until(lambda: len([handle for handle in loop._scheduled if not handle.cancelled()]) < 10)
