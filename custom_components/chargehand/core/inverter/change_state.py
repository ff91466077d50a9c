"""Whether a change is being written to an inverter, and whether anything was written since a moment."""

import asyncio


class ChangeState:
    """Lets one change at a time use the registers, and shows polls whether one wrote meanwhile."""

    def __init__(self) -> None:
        """Set up without a change."""
        self.lock = asyncio.Lock()
        """Held while a change is at work."""

        self._writes = 0

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

    def version(self) -> int | None:
        """Return a number that differs after every write, or None while a change is at work."""
        return None if self.lock.locked() else self._writes
