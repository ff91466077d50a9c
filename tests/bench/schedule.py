"""What an inverter is to do now."""

from dataclasses import dataclass
from enum import StrEnum


class Task(StrEnum):
    """What the battery is used for."""

    CHARGE = "charge"
    DISCHARGE = "discharge"
    FOLLOW_LOAD = "follow_load"
    HOLD = "hold"
    FEED_GRID = "feed_grid"


@dataclass(frozen=True, kw_only=True, slots=True)
class Duty:
    """A task, the current in A or the power in W of its window, and the level in % where it ends."""

    task: Task
    amps: float = 0.0
    watts: float = 0.0
    until: float = 0.0
