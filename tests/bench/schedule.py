"""What the schedule registers tell the inverter to do now."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

CONTROL_WORD = 200
RESERVE_LEVEL = 201
RUNNING_MODE = 202
CHARGE_FIRST = 220
DISCHARGE_FIRST = 240
WINDOWS = 3
WINDOW_REGISTERS = 6
SCHEDULE = (
    *range(CHARGE_FIRST, CHARGE_FIRST + WINDOWS * WINDOW_REGISTERS),
    *range(DISCHARGE_FIRST, DISCHARGE_FIRST + WINDOWS * WINDOW_REGISTERS),
)
"""Addresses of all window registers."""


class Task(StrEnum):
    """What the battery is used for."""

    CHARGE = "charge"
    DISCHARGE = "discharge"
    FOLLOW_LOAD = "follow_load"
    HOLD = "hold"
    FEED_GRID = "feed_grid"


_BY_MODE = {0: Task.FOLLOW_LOAD, 1: Task.HOLD, 2: Task.FEED_GRID}


@dataclass(frozen=True, kw_only=True, slots=True)
class Duty:
    """A task, the current in A or the power in W of its window, and the level in % where it ends."""

    task: Task
    amps: float = 0.0
    watts: float = 0.0
    until: float = 0.0


def covers(window: Sequence[int], minute: int) -> bool:
    """Whether a window's six registers cover a minute of the day; start = end covers none."""
    start, end = window[0] * 60 + window[1], window[2] * 60 + window[3]
    if start < end:
        return start <= minute < end
    return start > end and (minute >= start or minute < end)


def duty(holding: Mapping[int, int], minute: int) -> Duty:
    """What to do at a minute of the day: an armed window that covers it, charging first; else the running mode."""
    if holding[CONTROL_WORD] & 1:
        for task, block in ((Task.CHARGE, CHARGE_FIRST), (Task.DISCHARGE, DISCHARGE_FIRST)):
            for first in range(block, block + WINDOWS * WINDOW_REGISTERS, WINDOW_REGISTERS):
                window = [holding[first + at] for at in range(WINDOW_REGISTERS)]
                if covers(window, minute):
                    return Duty(task=task, amps=window[4] / 10, until=float(window[5]))
    mode = _BY_MODE.get(holding[RUNNING_MODE], Task.HOLD)
    return Duty(task=mode, until=float(holding[RESERVE_LEVEL]))
