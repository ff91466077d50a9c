"""A serial adapter for tests: a real pseudo-terminal whose far end is on a TCP port."""

import asyncio
import os
import tty
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress


@asynccontextmanager
async def adapter_to(port: int) -> AsyncIterator[str]:
    """The device file of an adapter whose bus ends at a port of loopback."""
    far, near = os.openpty()
    tty.setraw(near)
    reader, writer = await asyncio.open_connection("127.0.0.1", port)
    loop = asyncio.get_running_loop()
    loop.add_reader(far, lambda: writer.write(os.read(far, 512)))

    async def back() -> None:
        with suppress(ConnectionError):
            while data := await reader.read(1024):
                os.write(far, data)

    bringing = asyncio.create_task(back())
    yield os.ttyname(near)
    loop.remove_reader(far)
    writer.close()
    await bringing
    os.close(far)
    os.close(near)
