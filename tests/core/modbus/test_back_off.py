"""Chargehand connects rarely to a gateway that another client uses: each connection may cost the other client its own."""

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress
from dataclasses import dataclass, field
from math import log2
from typing import Any

import pytest

from custom_components.chargehand.core.modbus import Endpoint, Framing, Gateway, Line, LineError, Lost, NoConnection
from custom_components.chargehand.core.modbus.back_off import FIRST_DELAY
from tests.core.modbus.peers import serving

pytestmark = pytest.mark.usefixtures("socket_enabled")


@dataclass
class OneConnection:
    """A gateway that has one client at a time: a new one is dropped at once, or takes the place of the one before."""

    newest_stays: bool
    taken_by: list[asyncio.StreamWriter] = field(default_factory=list)
    connections: int = 0

    async def feed(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        self.connections += 1
        if self.taken_by and not self.newest_stays:
            writer.close()
            return
        for other in self.taken_by:
            other.transport.abort()
        self.taken_by = [writer]
        try:
            while True:
                request = await reader.readexactly(12)
                writer.write(request[:5] + b"\x05\x01\x03\x02\0\x2a")
        except ConnectionError, asyncio.IncompleteReadError:
            pass
        finally:
            if writer in self.taken_by:
                self.taken_by.remove(writer)
            writer.close()


@asynccontextmanager
async def line_to(port: int, *, shared: bool = False) -> AsyncIterator[Line]:
    gateway = Gateway(Endpoint(host="127.0.0.1", port=port, framing=Framing.TCP))
    gateway.back_off.shared = shared
    yield Line(gateway, unit=1, timeout_ms=500)
    gateway.close()


async def read_repeatedly(line: Line, seconds: float) -> set[Lost]:
    """Read again and again, much more often than polls do, and return why there was no connection."""
    loop = asyncio.get_running_loop()
    until = loop.time() + seconds
    lost = set()
    while loop.time() < until:
        try:
            await line.read("holding", 0, 1)
        except NoConnection as failure:
            lost.add(failure.lost)
        except LineError:
            pass
        await asyncio.sleep(0.01)
    return lost


def most_in(seconds: float) -> int:
    """Return how many connections may be made in a time, if the pause between them doubles each time."""
    return int(log2(seconds / FIRST_DELAY + 1)) + 1


async def test_a_closed_port_is_tried_more_and_more_seldom(
    unused_tcp_port: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    loop = asyncio.get_running_loop()
    tries, connect = 0, loop.create_connection

    async def counting(*asked: Any, **how: Any) -> Any:
        nonlocal tries
        tries += 1
        return await connect(*asked, **how)

    monkeypatch.setattr(loop, "create_connection", counting)
    async with line_to(unused_tcp_port) as line:
        started = loop.time()
        assert await read_repeatedly(line, 2.0) == {Lost.CANNOT_CONNECT}
        assert 1 <= tries <= most_in(loop.time() - started)


async def test_a_gateway_that_drops_each_connection_at_once_is_tried_more_and_more_seldom() -> None:
    peer = OneConnection(newest_stays=False)
    async with serving(peer.feed) as port, line_to(port) as other, line_to(port) as line:
        assert await other.read("holding", 0, 1) == (42,)
        started = asyncio.get_running_loop().time()
        assert await read_repeatedly(line, 2.0) == {Lost.DROPPED}, "also while none is tried"
        took = asyncio.get_running_loop().time() - started
        assert 1 <= peer.connections - 1 <= most_in(took)
        assert await other.read("holding", 0, 1) == (42,)


async def test_where_a_new_connection_costs_a_known_other_user_its_own_ours_are_few() -> None:
    """Each of the two gets an answer, and is then put out by the other: without a pause that would go on for ever, at every request."""
    peer = OneConnection(newest_stays=True)
    async with serving(peer.feed) as port, line_to(port) as other, line_to(port, shared=True) as line:
        started = asyncio.get_running_loop().time()
        _, lost = await asyncio.gather(read_repeatedly(other, 2.0), read_repeatedly(line, 2.0))
        took = asyncio.get_running_loop().time() - started
        assert Lost.DROPPED in lost
        # The other one makes a new connection whenever ours has put it out.
        assert 2 <= peer.connections <= 2 * most_in(took) + 1


async def test_a_gateway_of_ones_own_that_drops_a_connection_now_and_then_is_connected_to_at_once() -> None:
    async def once(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        request = await reader.read(12)
        writer.write(request[:5] + b"\x05\x01\x03\x02\0\x2a")
        writer.close()

    async with serving(once) as port, line_to(port) as line:
        answered = 0
        for _ in range(40):
            with suppress(NoConnection):
                answered += await line.read("holding", 0, 1) == (42,)
        assert answered >= 20, "every second one at least"


async def test_an_unshared_gateway_forgets_its_pauses_once_it_answers(unused_tcp_port: int) -> None:
    async with line_to(unused_tcp_port) as line:
        await read_repeatedly(line, FIRST_DELAY * 1.2)
        assert line.gateway.back_off.delay > FIRST_DELAY
        peer = OneConnection(newest_stays=False)
        server = await asyncio.start_server(peer.feed, "127.0.0.1", unused_tcp_port)
        await read_repeatedly(line, 4 * FIRST_DELAY)
        assert await line.read("holding", 0, 1) == (42,)
        assert line.gateway.back_off.delay == FIRST_DELAY
        server.close()
