"""A test's end of the SunSpec server: start the process, put an image on it, end it."""

import asyncio
import json
import sys
from collections.abc import AsyncIterator, Sequence
from contextlib import asynccontextmanager
from dataclasses import dataclass
from pathlib import Path

_ROOT = Path(__file__).parents[2]


@dataclass(kw_only=True)
class SunSpecDevice:
    """The running server."""

    port: int
    _process: asyncio.subprocess.Process

    async def put(self, first: int, values: Sequence[int]) -> None:
        """Show these registers from `first` on."""
        await self._ask(first=first, values=list(values))

    async def clear(self) -> None:
        """Show none."""
        await self._ask(clear=True)

    async def writes(self) -> int:
        """Return the requests so far that were no reads."""
        return (await self._ask())["writes"]

    async def _ask(self, **order: object) -> dict[str, int]:
        assert self._process.stdin
        assert self._process.stdout
        self._process.stdin.write(json.dumps(order).encode() + b"\n")
        answer: dict[str, int] = json.loads(await self._process.stdout.readline())
        return answer


@asynccontextmanager
async def sunspec_device() -> AsyncIterator[SunSpecDevice]:
    """Run a device until the context ends."""
    pipe = asyncio.subprocess.PIPE
    process = await asyncio.create_subprocess_exec(
        sys.executable, "-m", "tests.bench.sunspec", cwd=_ROOT, stdin=pipe, stdout=pipe
    )
    assert process.stdin
    assert process.stdout
    first = json.loads(await process.stdout.readline())
    try:
        yield SunSpecDevice(port=first["port"], _process=process)
    finally:
        process.stdin.close()
        await process.wait()
