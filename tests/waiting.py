"""Waiting for what comes true sooner or later; how long it takes says how busy the machine is. The test's time-out ends a wait in vain."""

import asyncio
from collections.abc import Awaitable, Callable
from inspect import isawaitable

from tests.bench.remote import Bench

PAUSE = 0.01
"""Seconds between two looks."""


async def until(holds: Callable[[], bool | Awaitable[bool]]) -> None:
    """Look again and again until it holds."""
    while True:
        answer = holds()
        if await answer if isawaitable(answer) else answer:
            return
        await asyncio.sleep(PAUSE)


async def written(bench: Bench, since: int = 0) -> None:
    """Wait until the bench has met a write after so many requests."""

    async def met() -> bool:
        return any(one["function"] in {6, 16} for one in (await bench.journal())[since:])

    await until(met)
