"""How much of the line polling takes: an inverter's bus has other users, and a commit must not have to queue."""

from collections.abc import Collection
from dataclasses import dataclass
from math import ceil

from ..registers import Poll
from .inverter import Inverter

MOST = 0.5
"""Share of the line that polls may take."""


@dataclass(frozen=True, kw_only=True, slots=True)
class LineShare:
    """Time on the line of one fast and one slow poll, in s."""

    fast: float
    slow: float

    def at(self, fast_seconds: float, slow_seconds: float) -> float:
        """Share of the line, 0…, at these intervals in s."""
        return self.fast / fast_seconds + self.slow / slow_seconds

    def shortest_fast(self, slow_seconds: float) -> int | None:
        """The shortest fast interval in whole s that leaves half the line free; None when slow polls alone take that."""
        left = MOST - self.slow / slow_seconds
        return max(1, ceil(self.fast / left)) if left > 0 else None


def percent(share: float) -> str:
    """A share as people read it."""
    return f"{100 * share:.0f} %"


def line_share(inverter: Inverter, keys: Collection[str]) -> LineShare:
    """What polling these keys takes."""
    return LineShare(fast=inverter.poll_seconds(keys, Poll.FAST), slow=inverter.poll_seconds(keys, Poll.SLOW))
