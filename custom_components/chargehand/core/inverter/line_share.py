"""The share of the line that polls take: a bus has other users, and a commit must not have to wait long."""

from collections.abc import Collection
from dataclasses import dataclass
from math import ceil

from ..registers import Poll
from .inverter import Inverter

MOST = 0.5
"""Highest share of the line that polls may take."""


@dataclass(frozen=True, kw_only=True, slots=True)
class LineShare:
    """Time on the line of one fast and one slow poll, in seconds."""

    fast: float
    slow: float

    def at(self, fast_seconds: float, slow_seconds: float) -> float:
        """Return the share of the line at these intervals in seconds; above 1 they are too short."""
        return self.fast / fast_seconds + self.slow / slow_seconds

    def shortest_fast(self, slow_seconds: float) -> int | None:
        """Return the shortest fast interval in whole seconds that leaves half the line free, or None if slow polls alone take half."""
        left = MOST - self.slow / slow_seconds
        return max(1, ceil(self.fast / left)) if left > 0 else None


def percent(share: float) -> str:
    """Return a share as text in %."""
    return f"{100 * share:.0f} %"


def line_share(inverter: Inverter, keys: Collection[str]) -> LineShare:
    """Return the time on the line that polling these keys takes."""
    return LineShare(
        fast=inverter.reader.poll_seconds(keys, Poll.FAST), slow=inverter.reader.poll_seconds(keys, Poll.SLOW)
    )
