"""The gateway's TCP side: who is connected, what they send, and what reaches them, late, halved or not at all."""

import asyncio
import socket
import struct
from typing import Protocol

from tests.bench.faults import LOGGER, Fault

BEHIND = 0.02
"""Seconds from an answer that comes again to the one that it comes in front of."""


class Back(Protocol):
    """What stands behind the TCP side."""

    def receive(self, client: Client, data: bytes) -> None:
        """Receive bytes from a client."""


class Client(asyncio.Protocol):
    """One TCP connection; `stream` is for whoever reads frames from it."""

    def __init__(self, front: Front, back: Back) -> None:
        self._front = front
        self._back = back
        self._transport: asyncio.Transport | None = None
        self.name = ""
        self.stream = bytearray()
        self.held = b""
        """An answer that comes once more, in front of the next one."""

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        """Take the connection, unless the gateway has as many as it takes."""
        assert isinstance(transport, asyncio.Transport)
        if self._front.full:
            self._front.refused += 1
            transport.close()
            return
        self._transport = transport
        self.name = self._front.welcome(self, transport.get_extra_info("peername")[1])

    def data_received(self, data: bytes) -> None:
        """Hand on what came, as long as the connection was taken."""
        if self._transport:
            self._back.receive(self, data)

    def connection_lost(self, exc: Exception | None) -> None:
        """Forget it."""
        self._transport = None
        self._front.clients.discard(self)

    def send(self, data: bytes) -> None:
        """Send, if anyone is still there."""
        if self._transport:
            self._transport.write(data)

    def reset(self) -> None:
        """Drop the connection with RST instead of FIN."""
        if self._transport:
            sock = self._transport.get_extra_info("socket")
            sock.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
            self._transport.abort()


class Front:
    """A listening port; `most` connections at a time, None for any number."""

    def __init__(self, *, host: str, port: int, most: int | None) -> None:
        self.clients: set[Client] = set()
        self.logger_ports: set[int] = set()
        """Local ports of the data logger's connections, by which it is known."""
        self.accepted = 0
        self.refused = 0
        self.delay = 0.0
        """Seconds that every answer is late."""
        self.host = host
        self.port = port
        self._most = most
        self._named = 0
        self._place: socket.socket | None = None
        """Holds the port also while nobody listens at it: it must not become another one's meanwhile."""
        self._server: asyncio.Server | None = None
        self._back: Back | None = None

    @property
    def full(self) -> bool:
        """Whether the next connection is dropped."""
        return self._most is not None and len(self.clients) >= self._most

    def welcome(self, client: Client, peer_port: int) -> str:
        """Take a client in, and name it."""
        self.accepted += 1
        self.clients.add(client)
        if peer_port in self.logger_ports:
            self.logger_ports.discard(peer_port)
            return LOGGER
        self._named += 1
        return f"c{self._named}"

    async def open(self, back: Back) -> None:
        """Listen; the port stays the same after the first time."""
        self._back = back
        if self._place is None:
            self._place = socket.socket()
            self._place.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            self._place.bind((self.host, self.port))
            self.port = self._place.getsockname()[1]
        loop = asyncio.get_running_loop()
        self._server = await loop.create_server(lambda: Client(self, back), self.host, self.port)

    async def reopen(self) -> None:
        """Listen again after `close`."""
        if self._server is None and self._back is not None:
            await self.open(self._back)

    def close(self) -> None:
        """Stop listening and reset all connections."""
        if self._server:
            self._server.close()
            self._server = None
        for client in tuple(self.clients):
            client.reset()

    def deliver(self, client: Client, frame: bytes, fault: Fault) -> None:
        """Send an answer the way its fault has it."""
        match fault.how.answers:
            case "never":
                return
            case "reset":
                client.reset()
                return
            case "half":
                frame = frame[: len(frame) // 2]
            case "twice":
                frame += frame
            case _:
                pass
        held, client.held = client.held, frame if fault.how.answers == "again" else b""
        client.send(held)
        delay = self.delay + (fault.ms / 1000 if fault.how.answers == "late" else 0.0) + (BEHIND if held else 0.0)
        if delay:
            asyncio.get_running_loop().call_later(delay, client.send, frame)
        else:
            client.send(frame)
