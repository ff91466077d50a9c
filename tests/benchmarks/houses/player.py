"""A battery that is not the planner's, played in steps of ten minutes under windows, and what the meter counts."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, timedelta

from custom_components.chargehand.core.planning import PlannedWindow
from tests.benchmarks.houses.calendar import BEGIN, HALF_HOUR, place
from tests.benchmarks.houses.course import Course
from tests.benchmarks.houses.house import RESERVE_LEVEL, House

EFFICIENCY = 0.94
"""Each way between the meter and what is stored."""
TAPER_FROM, TAPER_KW = 0.93, 0.04
"""Above this share of the capacity the power falls to so much of itself at 100 %: later than the planner assumes."""
PARTS = 3
"""Steps of a half hour."""


@dataclass(kw_only=True, slots=True)
class Cells:
    """What is stored now, in kWh."""

    house: House
    stored: float

    @property
    def capacity(self) -> float:
        """Stored at 100 %."""
        return self.house.capacity_kwh / 0.9

    @property
    def level(self) -> float:
        """In %."""
        return 100 * self.stored / self.capacity


def play_day(cells: Cells, over: Course, day: int, windows: Sequence[PlannedWindow]) -> float:
    """From a day's evening to the next: what is bought less what is sold."""
    begin = BEGIN + timedelta(days=day)
    first, last = place(begin), place(begin + timedelta(days=1))
    tasks: list[PlannedWindow | None] = [None] * ((last - first) * PARTS)
    part = HALF_HOUR / PARTS
    for window in windows:
        # Times of one zone would be subtracted by the clock.
        a, b = (round((at.astimezone(UTC) - begin.astimezone(UTC)) / part) for at in (window.start, window.end))
        tasks[max(a, 0) : b] = [window] * (min(b, len(tasks)) - max(a, 0))
    capacity, power = cells.capacity, cells.house.power_kw
    reserve = RESERVE_LEVEL / 100 * capacity
    bend = TAPER_FROM * capacity
    hours = 0.5 / PARTS
    stored, paid = cells.stored, 0.0
    for step in range(first, last):
        lack = (over.load[step] - over.solar[step]) / PARTS
        buy, sell = over.buy[step], over.sell[step]
        for task in tasks[(step - first) * PARTS : (step - first + 1) * PARTS]:
            most = power * hours
            if stored > bend:
                most *= 1 - (1 - TAPER_KW) * (stored - bend) / (capacity - bend)
            most = min(most, capacity - stored)
            if task is not None:
                into = max(min(most, task.power_kw * hours, task.stop_level / 100 * capacity - stored), 0.0)
                net = lack + into / EFFICIENCY
            elif lack < 0:
                into = min(most, -lack * EFFICIENCY)
                net = lack + into / EFFICIENCY
            else:
                into = -min(max(stored - reserve, 0.0), power * hours, lack / EFFICIENCY)
                net = lack + into * EFFICIENCY
            stored += into
            paid += (buy if net > 0 else sell) * net
    cells.stored = stored
    return paid
