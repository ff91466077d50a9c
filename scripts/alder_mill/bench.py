"""The bench, a process of its own, and its control port."""

import asyncio
import json
import sys
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from datetime import datetime
from typing import Any, Self

from .faults import DemoFailed
from .paths import PORTS, ROOT


class Bench:
    """The Teasel T5 behind its gateway, on a simulated 9600-baud line; `port` is the gateway's."""

    def __init__(self, ports: dict[str, int], reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        """Talk to the control port over these streams."""
        self.port = ports["port"]
        self._ports = ports
        self._reader, self._writer = reader, writer
        self._turn = asyncio.Lock()

    @classmethod
    @asynccontextmanager
    async def started(cls, clock: datetime) -> AsyncIterator[Self]:
        """Start the bench at a local time, and end it in the end."""
        process = await asyncio.create_subprocess_exec(
            sys.executable,
            *("-m", "tests.bench", "--port", "0", "--control", "0", "--until-stdin-closes"),
            *("--time-zone", "Europe/London", "--clock", clock.replace(tzinfo=None).isoformat()),
            cwd=ROOT,
            # Ctrl-C is the demo's alone: it ends the bench when it has ended itself.
            start_new_session=True,
            stdin=asyncio.subprocess.PIPE,
            stdout=asyncio.subprocess.PIPE,
        )
        assert process.stdin is not None
        assert process.stdout is not None
        try:
            line = await process.stdout.readline()
            if not line:
                raise DemoFailed("the bench did not start")
            ports = json.loads(line)
            reader, writer = await asyncio.open_connection("127.0.0.1", ports["control"])
            yield cls(ports, reader, writer)
            writer.close()
        finally:
            PORTS.unlink(missing_ok=True)
            process.stdin.close()
            await process.wait()

    def publish(self) -> None:
        """Write down where the bench takes orders (tests/bench/README.md), for whoever plays with it while the demo runs."""
        PORTS.write_text(json.dumps(self._ports))

    async def ask(self, do: str, **fields: object) -> dict[str, Any]:
        """Give a command of tests/bench/README.md, and return its answer. Raises DemoFailed."""
        async with self._turn:
            self._writer.write(json.dumps({"do": do} | fields).encode() + b"\n")
            answer: dict[str, Any] = json.loads(await self._reader.readline() or b'{"error": "the bench is gone"}')
        if "error" in answer:
            raise DemoFailed(f"bench, {do}: {answer['error']}")
        return answer
