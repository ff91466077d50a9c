"""An event loop whose clock jumps to the next timer, with connections that are kept in memory."""

import asyncio
import selectors
from collections.abc import Callable
from typing import Any, override

type Factory = Callable[[], asyncio.Protocol]

SLIP = 1e-9
"""Seconds by which the clock goes past a timer: two floats that should be equal need not be."""


class NothingLeft(RuntimeError):
    """Somebody waits for what can never come: no timer is set, and nothing is ready."""


class _Jumping(selectors.DefaultSelector):
    """Looks at no file; instead of waiting it moves the loop's clock on."""

    def __init__(self, loop: SimulatedLoop) -> None:
        super().__init__()
        self._loop = loop

    @override
    def select(self, timeout: float | None = None) -> list[Any]:
        if timeout is None:
            raise NothingLeft
        if timeout > 0:
            self._loop.now += timeout + SLIP
        return []


class SimulatedLoop(asyncio.SelectorEventLoop):
    """Time passes only where everybody waits. Connections reach the servers that were started on the same loop."""

    def __init__(self) -> None:
        self.now = 0.0
        super().__init__(_Jumping(self))
        self._servers: dict[tuple[str, int], Factory] = {}

    @override
    def time(self) -> float:
        return self.now

    def serve(self, factory: Factory, host: str, port: int) -> None:
        """Take connections to a host and port from now on."""
        self._servers[host, port] = factory

    @override
    async def create_connection(self, protocol_factory: Any, host: Any = None, port: Any = None, **_: Any) -> Any:
        factory = self._servers.get((host, port))
        await asyncio.sleep(0)
        if factory is None:
            raise ConnectionRefusedError(f"nobody listens at {host}:{port}")
        near, far = protocol_factory(), factory()
        here, there = MemoryTransport(self, near), MemoryTransport(self, far)
        here.other, there.other = there, here
        far.connection_made(there)
        near.connection_made(here)
        return here, near


class MemoryTransport(asyncio.Transport):
    """One end of a connection in memory. What is written arrives at the loop's next turn."""

    def __init__(self, loop: SimulatedLoop, protocol: asyncio.Protocol) -> None:
        super().__init__()
        self.other: MemoryTransport | None = None
        self._loop = loop
        self._protocol = protocol
        self._open = True

    @override
    def write(self, data: Any) -> None:
        if self._open and self.other is not None:
            self._loop.call_soon(self.other.arrive, bytes(data))

    def arrive(self, data: bytes) -> None:
        """Hand what came to whoever reads here."""
        if self._open:
            self._protocol.data_received(data)

    @override
    def is_closing(self) -> bool:
        return not self._open

    @override
    def abort(self) -> None:
        self._end(None)
        if self.other is not None:
            self.other.lose()

    @override
    def close(self) -> None:
        self.abort()

    def lose(self) -> None:
        """Note that the other end has gone."""
        self._end(ConnectionResetError("the other end has gone"))

    def _end(self, why: Exception | None) -> None:
        if self._open:
            self._open = False
            self._loop.call_soon(self._protocol.connection_lost, why)
