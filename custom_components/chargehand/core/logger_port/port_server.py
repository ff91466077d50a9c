"""The server of the logger port: whom it lets in, and how much any of them may cost."""

import asyncio
import socket
from collections.abc import Callable
from contextlib import suppress

from .logger_gate import LoggerGate
from .logger_request import NO_TARGET, exception
from .port_rules import HostAddress, PortRules, host_address
from .request_frames import FrameBroken, frames_of

MOST_CLIENTS = 4
"""Connections of one address. One more takes the place of the quietest: a data logger that was switched off has left its own behind."""

PACE_SECONDS = 0.01
"""Shortest time between two answers to one client: more requests than a serial line carries would only take processor time."""

MOST_RECEIVED = 1024
"""Bytes of a client that wait for their turn; the rest waits in the network."""

MOST_UNREAD = 0x4000
"""Bytes of answers that a client may leave unread before its connection is closed."""

KEEPALIVE = {"TCP_KEEPIDLE": 60, "TCP_KEEPINTVL": 15, "TCP_KEEPCNT": 4}
"""Seconds of quiet until the system asks whether a client is still there, between its questions, and how many of them."""


class PortServer:
    """Serves one inverter's unit to the addresses of its rules."""

    def __init__(
        self, gate: LoggerGate, rules: PortRules, unit: int, changed: Callable[[], None] = lambda: None
    ) -> None:
        """Set up the server without opening it. `changed` is called when the first client has come or the last one has gone."""
        self.gate = gate
        self._rules = rules
        self._unit = unit
        self._changed = changed
        self._server: asyncio.Server | None = None
        self._closed = False
        self._clients: set[_Client] = set()
        self._tasks: set[asyncio.Task[None]] = set()

    @property
    def connected(self) -> int:
        """Return how many clients are connected."""
        return len(self._clients)

    @property
    def port(self) -> int:
        """Return the port that is listened on."""
        return self._rules.port if self._server is None else int(self._server.sockets[0].getsockname()[1])

    async def open(self) -> None:
        """Listen. Raises OSError if the port cannot be had."""
        self._server = await asyncio.start_server(
            self._accept, self._rules.bind, self._rules.port, limit=MOST_RECEIVED, reuse_address=True
        )

    async def close(self) -> None:
        """Stop listening, end all connections, and wait for writes that are on their way."""
        self._closed = True
        if self._server is not None:
            self._server.close()
        for client in self._clients:
            client.writer.transport.abort()
        for task in self._tasks:
            task.cancel()
        if self._tasks:
            await asyncio.wait(self._tasks)
        await self.gate.close()

    def _accept(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        """Take a client in, or close its connection at once."""
        host = _host(writer)
        if host not in self._rules.hosts or self._closed:
            self.gate.counts.turned_away += 1
            writer.transport.abort()
            return
        client = _Client(host, reader, writer)
        self._make_room(host)
        self._clients.add(client)
        task = asyncio.create_task(self._serve(client))
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)
        if self.connected == 1:
            self._changed()

    def _make_room(self, host: HostAddress) -> None:
        """Close the quietest connection of an address that has as many as it may have."""
        others = [client for client in self._clients if client.host == host]
        if len(others) >= MOST_CLIENTS:
            quietest = min(others, key=lambda client: client.heard_at)
            self._clients.discard(quietest)
            quietest.writer.transport.abort()

    async def _serve(self, client: _Client) -> None:
        """Answer a client's requests one after the other, until it leaves."""
        try:
            with suppress(FrameBroken, EOFError, OSError):
                await self._answer_all(client)
        finally:
            client.writer.transport.abort()
            if client in self._clients:
                self._clients.discard(client)
                if not self._clients:
                    self._changed()

    async def _answer_all(self, client: _Client) -> None:
        loop, frames, writer = asyncio.get_running_loop(), frames_of(self._rules.framing, client.reader), client.writer
        while True:
            request = await frames.next()
            client.heard_at = began = loop.time()
            if request.unit == self._unit:
                answer = await self.gate.answer(request.pdu)
            else:
                answer = exception(request.pdu, NO_TARGET) if frames.answers_for_others else None
            if answer is not None:
                writer.write(frames.build(request, answer))
            if writer.transport.get_write_buffer_size() > MOST_UNREAD:
                return
            await asyncio.sleep(began + PACE_SECONDS - loop.time())


class _Client:
    """One connection."""

    def __init__(self, host: HostAddress, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        self.host = host
        self.reader = reader
        self.writer = writer
        self.heard_at = asyncio.get_running_loop().time()
        """When its last request came, on the event loop's clock."""

        # A client may have gone already, and not every system has all of these.
        with suppress(OSError):
            sock = writer.get_extra_info("socket")
            sock.setsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE, 1)
            for name, value in KEEPALIVE.items():
                if (option := getattr(socket, name, None)) is not None:
                    sock.setsockopt(socket.IPPROTO_TCP, option, value)


def _host(writer: asyncio.StreamWriter) -> HostAddress | None:
    """Return a client's address; None if it has gone already."""
    peer = writer.get_extra_info("peername")
    return host_address(str(peer[0])) if peer else None
