"""The plan: when to charge from the grid and how far, at the least expected cost."""

from math import isfinite

import numpy as np

from .battery import Battery
from .candidates import Limits
from .expected_course import Ahead, expected_course
from .explain import PlanResult, reason
from .faults import BadBattery
from .feasible import Feasible
from .local_search import best_windows
from .objective import Objective, may_sell
from .result import Plan, PlannedHour, PlannedWindow
from .scenarios import Scenarios, check
from .simulate import stage
from .tariff import Floats, Prices
from .value_function import transition

LATER_SOLAR = (0.2, 1.0, 1.8)
"""What the sun gives on days beyond the horizon, in shares of its last 24 hours: dull and bright days come in turn."""


def make_plan(
    battery: Battery, level: float, prices: Prices, scenarios: Scenarios, limits: Limits | None = None
) -> Plan:
    """Plan the windows of the coming day from a level in % at the start of the prices' horizon.

    The inverter's windows repeat daily, so they are planned to the same time tomorrow, before the scenario is known. What comes later in the
    horizon is planned anew by then, and beyond it the last 24 hours come again and again, with less sun or more. Raises PlanningFault.
    """
    horizon = prices.horizon
    check(scenarios, horizon)
    if not isfinite(level) or not 0 <= level <= 100:
        raise BadBattery(f"the battery's level is {level:g} %: give 0 to 100")
    limits = limits or Limits()
    over = stage(battery, prices, scenarios.load, scenarios.solar)
    steps, day = horizon.steps, min(horizon.first_day, horizon.steps)
    whole = round(24 / horizon.step_hours)

    def feasible(first: int, last: int) -> Feasible:
        return Feasible(battery=battery, limits=limits, horizon=horizon, first=first, last=last)

    usual = _later_days(scenarios)
    last_day = stage(battery, prices, usual.load, usual.solar).part(steps - whole, steps)
    terminal = transition(feasible(steps - whole, steps), last_day, usual.weights).repeated()
    rest = transition(feasible(day, steps), over.part(day, steps), scenarios.weights) if day < steps else None
    objective = Objective(
        feasible=feasible(0, day),
        over=over.part(0, day),
        weights=scenarios.weights,
        stored=battery.energy(level),
        terminal=rest.before(terminal) if rest is not None else terminal,
        sells=may_sell(battery, prices, day),
    )
    slots = best_windows(objective)
    ahead = Ahead(over=over, weights=scenarios.weights, steps=day, rest=rest, terminal=terminal)
    result = PlanResult(
        level=level,
        prices=prices,
        scenarios=scenarios,
        objective=objective,
        ahead=ahead,
        slots=slots,
        with_windows=expected_course(ahead, slots, objective.stored),
        without=expected_course(ahead, (), objective.stored),
    )
    return Plan(
        windows=tuple(
            PlannedWindow(
                start=horizon.at(slot.begin), end=horizon.at(slot.end), power_kw=slot.power, stop_level=slot.stop
            )
            for slot in slots
        ),
        target_level=result.target,
        grid_charge_kwh=result.charge_kwh,
        expected_cost=result.with_windows.paid,
        cost_without=result.without.paid,
        saving=result.saving,
        left_worth=result.with_windows.left,
        left_gain=result.left_gain,
        wear_cost=result.wear_cost,
        hours=_hours(result),
        reason=reason(result),
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


def _hours(result: PlanResult) -> tuple[PlannedHour, ...]:
    starts, prices = result.prices.horizon.starts, result.prices
    begun = np.array([at for at, start in enumerate(starts) if at == 0 or start.minute == 0])
    last = np.concatenate((begun[1:], [len(starts)]))

    def summed(by_step: Floats) -> list[float]:
        sums: list[float] = np.add.reduceat(by_step, begun).tolist()
        return sums

    columns = {
        "load_kwh": summed(result.scenarios.weights @ result.scenarios.load),
        "solar_kwh": summed(result.scenarios.weights @ result.scenarios.solar),
        "grid_charge_kwh": summed(result.with_windows.charge),
        "cost": summed(result.with_windows.bill),
        "cost_without": summed(result.without.bill),
        "buy": (np.add.reduceat(prices.buy, begun) / (last - begun)).tolist(),
        "sell": (np.add.reduceat(prices.sell, begun) / (last - begun)).tolist(),
        "level": [result.battery.level(float(result.with_windows.levels[at - 1])) for at in last],
    }
    return tuple(
        PlannedHour(start=starts[first], **{name: values[at] for name, values in columns.items()})
        for at, first in enumerate(begun)
    )
