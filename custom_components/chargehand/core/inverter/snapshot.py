"""The values of an inverter at one moment."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from itertools import compress, repeat
from operator import ne
from typing import Final

from ..registers import Value
from ..schedule import Schedule

SCHEDULE = "schedule"
CLOCK = "clock"
"""Keys of what can be polled besides readings and controls."""

type ReadingValue = Value | tuple[str, ...] | None
"""A value in its own unit, a label, or the texts of the flags that are set; None if the inverter has no value."""


_ABSENT: Final = object()


@dataclass(frozen=True, kw_only=True, slots=True)
class Snapshot:
    """Values by the map's keys, the schedule, and the clock. A key that could not be read is left out."""

    values: Mapping[str, ReadingValue] = field(default_factory=dict)
    schedule: Schedule | None = None
    clock_offset: float | None = None
    """Seconds that the inverter's clock is ahead of Home Assistant's."""

    read_at: datetime | None = field(default=None, compare=False)
    """When the last poll ended; None before the first."""

    def differs(self, other: Snapshot) -> frozenset[str]:
        """Return the keys whose values differ between the two, with SCHEDULE and CLOCK."""
        differ = set[str]()
        if self.values is not other.values:
            # Of two hundred values, most polls change a few: `map` and `compress` compare them faster than a Python loop.
            before = map(other.values.get, self.values, repeat(_ABSENT), strict=False)
            differ.update(compress(self.values, map(ne, self.values.values(), before, strict=True)))
            if not other.values.keys() <= self.values.keys():
                differ.update(other.values.keys() - self.values.keys())
        if self.schedule != other.schedule:
            differ.add(SCHEDULE)
        if self.clock_offset != other.clock_offset:
            differ.add(CLOCK)
        return frozenset(differ)
