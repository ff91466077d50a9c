"""What an inverter is to do now."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum


class Task(StrEnum):
    """What the battery is used for."""

    CHARGE = "charge"
    DISCHARGE = "discharge"
    FOLLOW_LOAD = "follow_load"
    HOLD = "hold"
    FEED_GRID = "feed_grid"
    KEEP_LEVEL = "keep_level"
    """Follow the load above a level, and charge up to it, never with more than a power."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Duty:
    """A task, the current in A or the power in W of its window, and the level in % where it ends.

    Where a level is kept, the current is the most that charging takes from the grid.
    """

    task: Task
    amps: float = 0.0
    watts: float = 0.0
    until: float = 0.0
    from_grid: bool = True
    """Whether charging takes what the roof does not give from the grid."""
    by: str = ""
    """The window that asks for it, as its table names it; nothing while none does."""


def minute_of_day(shown: datetime) -> int:
    """Return the minute of the day that a clock shows."""
    return shown.hour * 60 + shown.minute


def covers(start: int, end: int, minute: int) -> bool:
    """Return whether a window covers a minute of the day; one whose start is its end covers none."""
    if start < end:
        return start <= minute < end
    return start > end and (minute >= start or minute < end)
