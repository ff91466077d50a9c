"""Whether a change is being written to an inverter, and whether anything was written since a moment."""

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager


class ChangeState:
    """Lets one change at a time use the registers, and shows polls whether one wrote meanwhile."""

    def __init__(self) -> None:
        """Set up without a change."""
        self.lock = asyncio.Lock()
        """Held while a change is at work."""

        self._writes = 0
        self._passing = False

    def record_write(self) -> None:
        """Record that a write request is about to be sent."""
        self._writes += 1

    @property
    def writes(self) -> int:
        """Return how many write requests have been sent, or are about to be."""
        return self._writes

    async def settled(self) -> None:
        """Wait until no change is at work."""
        if self.lock.locked():
            async with self.lock:
                pass

    @asynccontextmanager
    async def passing(self, until: float) -> AsyncIterator[None]:
        """Keep changes out while a request of another client is passed on. Raises TimeoutError if one is at work for too long.

        Polls go on: unless a write is recorded, what they read is what was there.
        """
        async with asyncio.timeout_at(until):
            await self.lock.acquire()
        self._passing = True
        try:
            yield
        finally:
            self._passing = False
            self.lock.release()

    def version(self) -> int | None:
        """Return a number that differs after every write, or None while a change is at work."""
        return None if self.lock.locked() and not self._passing else self._writes
