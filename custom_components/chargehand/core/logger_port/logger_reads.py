"""What the data logger reads: polls take from it what they would only read again."""

import asyncio
from collections.abc import Collection, Mapping

from ..registers import Batch
from .logger_request import Stretch
from .register_memory import RegisterMemory, Registers

MOST_READS = 256
"""Reads that are known; those that were not asked for the longest go first."""

ASKED_SECONDS = 60.0
"""How long a read counts as one that the logger asks for."""


class LoggerReads:
    """The reads that the logger asks for, and those of them that were passed on. Their registers are in the memory, or too old."""

    def __init__(self, memory: RegisterMemory, most_seconds: float) -> None:
        """Set up with no reads. Polls take those that were sent less than `most_seconds` ago; 0: none."""
        self._memory = memory
        self._most_seconds = most_seconds
        self._asked: dict[Batch, float] = {}
        """When each was asked for last, on the event loop's clock; the latest at the end."""

        self._passed: dict[Batch, float] = {}
        """When each was sent last that was passed on."""

    def record_asked(self, read: Stretch, now: float) -> None:
        """Record that the logger asks for a read."""
        batch = _batch(read)
        self._asked.pop(batch, None)
        self._asked[batch] = now
        if len(self._asked) > MOST_READS:
            oldest = next(iter(self._asked))
            del self._asked[oldest]
            self._passed.pop(oldest, None)

    def record_passed(self, read: Stretch) -> None:
        """Record that the inverter has just answered a read with registers, while no change was at work."""
        batch = _batch(read)
        if (known := self._memory.whole(batch)) is not None:
            self._passed[batch] = known[1]

    def lately(self) -> Mapping[Batch, Registers]:
        """Return the reads that are new enough for a poll, unless a later read or write may have made them old."""
        oldest = asyncio.get_running_loop().time() - self._most_seconds
        found: dict[Batch, Registers] = {}
        for batch, at in self._passed.items():
            known = self._memory.whole(batch) if at > oldest else None
            if known is not None and known[1] == at:
                found[batch] = known[0]
        return found

    def asked(self) -> Collection[Batch]:
        """Return the reads that the logger has asked for in the last minute."""
        oldest = asyncio.get_running_loop().time() - ASKED_SECONDS
        return [batch for batch, at in self._asked.items() if at >= oldest]


def _batch(read: Stretch) -> Batch:
    return Batch(read.table, read.first, read.count)
