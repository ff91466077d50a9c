"""The tests' client of the processes that are killed."""

import asyncio
import json
import sys
from pathlib import Path
from typing import cast

from .killable_process import Job

_ROOT = Path(__file__).parents[3]


class ProcessClient:
    """A connection to `tests.core.schedule.killable_process`, one job at a time."""

    def __init__(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        self._reader = reader
        self._writer = writer

    async def send(self, job: Job) -> str:
        """Let a process do this job. Return `killed` or how it ended."""
        self._writer.write(json.dumps(job).encode() + b"\n")
        line = await self._reader.readline()
        return cast("str", json.loads(line)["end"])

    def close(self) -> None:
        """End the connection."""
        self._writer.close()


class ProcessServer:
    """The process from which all of a worker's killable processes are forked."""

    def __init__(self) -> None:
        self._starting = asyncio.Lock()
        self._process: asyncio.subprocess.Process | None = None
        self._port = 0

    async def connect(self) -> ProcessClient:
        """One more connection; the process is started for the first."""
        async with self._starting:
            if self._process is None:
                pipe = asyncio.subprocess.PIPE
                self._process = await asyncio.create_subprocess_exec(
                    sys.executable, "-m", "tests.core.schedule.killable_process", cwd=_ROOT, stdin=pipe, stdout=pipe
                )
                assert self._process.stdout
                self._port = int(await self._process.stdout.readline())
        return ProcessClient(*await asyncio.open_connection("127.0.0.1", self._port))

    async def stop(self) -> None:
        """End the process."""
        if self._process is not None:
            assert self._process.stdin
            self._process.stdin.close()
            await self._process.wait()
