"""What needs no forecast: a charge to a fixed level, for when too little is known of what the house uses, and the cheapest time."""

from datetime import datetime

import numpy as np

from .battery import Battery
from .candidates import Limits
from .feasible import Span, runs
from .history import main_day
from .result import PlannedWindow
from .tariff import Prices

_NIGHT_HOURS = 6


def fixed_window(battery: Battery, level: float, target: int, prices: Prices, limits: Limits) -> PlannedWindow | None:
    """Return the window of the coming day from `level` to `target` in %: the cheapest steps that are next to each other and long enough.

    The target is brought between the stop levels that there are. None where it is reached already, or no price is far enough below the highest
    to be worth a charge. Raises BadLimits.
    """
    lowest, highest = limits.stop_levels(battery)
    target = min(max(target, lowest), highest)
    horizon = prices.horizon
    buy, power = prices.buy[: horizon.first_day], limits.power(battery)
    missing = battery.energy(target) - battery.energy(level)
    steps = missing / power / horizon.step_hours
    best: Span | None = None
    for most in np.unique(buy):
        if not battery.worth_it(float(most), float(buy.max())):
            break
        best = max(runs(buy <= most), key=lambda run: run[1] - run[0])
        if best[1] - best[0] >= steps:
            break
    if best is None or missing <= 0:
        return None
    return PlannedWindow(start=horizon.at(best[0]), end=horizon.at(best[1]), power_kw=power, stop_level=target)


def cheapest_time(prices: Prices) -> tuple[datetime, datetime]:
    """Return the first run of the cheapest steps of the coming day; the first six hours of the main day where all cost the same."""
    horizon = prices.horizon
    buy = prices.buy[: horizon.first_day]
    begin, end = runs(buy <= buy.min())[0]
    if end - begin < len(buy):
        return horizon.at(begin), horizon.at(end)
    there = [at for at, start in enumerate(horizon.starts[: horizon.first_day]) if start.date() == main_day(horizon)]
    return horizon.at(there[0]), horizon.at(min(there[0] + round(_NIGHT_HOURS / horizon.step_hours), there[-1] + 1))
