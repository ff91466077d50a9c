"""A network cable between Home Assistant and the gateway that can be pulled out and put back."""

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import dataclass, field


@dataclass
class Cable:
    """Two ends on loopback. While it is out nothing passes, and nobody notices; TCP sends again what was lost, so it comes later."""

    far: int
    port: int = 0
    _in: asyncio.Event = field(default_factory=asyncio.Event)

    def __post_init__(self) -> None:
        self._in.set()

    def pull(self) -> None:
        self._in.clear()

    def put_back(self) -> None:
        self._in.set()

    async def carry(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        await self._in.wait()
        try:
            far_reader, far_writer = await asyncio.open_connection("127.0.0.1", self.far)
        except ConnectionError:
            writer.close()
            return
        try:
            async with asyncio.TaskGroup() as group:
                group.create_task(self._one_way(reader, far_writer))
                group.create_task(self._one_way(far_reader, writer))
        except* ConnectionError:
            pass

    async def _one_way(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        try:
            while data := await reader.read(4096):
                await self._in.wait()
                writer.write(data)
                await writer.drain()
        finally:
            writer.close()


@asynccontextmanager
async def cable_to(port: int) -> AsyncIterator[Cable]:
    """A cable whose near end is at its `port`."""
    cable = Cable(port)
    server = await asyncio.start_server(cable.carry, "127.0.0.1", 0)
    cable.port = server.sockets[0].getsockname()[1]
    yield cable
    cable.put_back()
    server.close()
    server.close_clients()
    await server.wait_closed()
