"""What a plan and a rehearsal look ahead to: the coming day, later nights as they are planned by then, and days beyond the horizon."""

import numpy as np

from .battery import Battery
from .candidates import Limits
from .expected_course import Ahead
from .feasible import Feasible
from .scenarios import Scenarios
from .simulate import stage
from .tariff import Prices
from .value_function import transition

LATER_SOLAR = (0.2, 1.0, 1.8)
"""What the sun gives on days beyond the horizon, in shares of its last 24 hours: dull and bright days come in turn."""


def look_ahead(battery: Battery, prices: Prices, scenarios: Scenarios, limits: Limits) -> Ahead:
    """Return the prices' horizon, and what follows the coming day.

    The inverter's windows repeat daily, so the coming day is the time until the clock shows the same again. What comes later in the horizon is
    planned anew by then, and beyond it the last 24 hours come again and again, with less sun or more. Raises BadLimits.
    """
    horizon = prices.horizon
    steps, day = horizon.steps, min(horizon.first_day, horizon.steps)
    whole = round(24 / horizon.step_hours)

    def feasible(first: int, last: int) -> Feasible:
        return Feasible(battery=battery, limits=limits, horizon=horizon, first=first, last=last)

    over = stage(battery, prices, scenarios.load, scenarios.solar)
    usual = _later_days(scenarios)
    last_day = stage(battery, prices, usual.load, usual.solar).part(steps - whole, steps)
    return Ahead(
        over=over,
        weights=scenarios.weights,
        steps=day,
        rest=transition(feasible(day, steps), over.part(day, steps), scenarios.weights) if day < steps else None,
        terminal=transition(feasible(steps - whole, steps), last_day, usual.weights).repeated(),
    )


def _later_days(scenarios: Scenarios) -> Scenarios:
    """Return the days beyond the horizon."""
    if not scenarios.solar.any():
        return scenarios
    count = len(LATER_SOLAR)
    return Scenarios(
        weights=np.tile(scenarios.weights, count) / count,
        load=np.tile(scenarios.load, (count, 1)),
        solar=np.concatenate([share * scenarios.solar for share in LATER_SOLAR]),
    )
