"""The plan: when to charge from the grid and how far, at the least expected cost."""

from math import isfinite

import numpy as np

from .battery import Battery
from .candidates import Limits
from .expected_course import expected_course
from .explain import PlanResult, reason
from .faults import BadBattery
from .feasible import Feasible
from .local_search import best_windows
from .look_ahead import look_ahead
from .objective import Objective, may_sell
from .result import Plan, PlannedHour, PlannedWindow
from .scenarios import Scenarios, check
from .tariff import Floats, Prices


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
    ahead = look_ahead(battery, prices, scenarios, limits)
    day = ahead.day
    objective = Objective(
        feasible=Feasible(battery=battery, limits=limits, horizon=horizon, first=0, last=day.steps),
        over=day,
        weights=scenarios.weights,
        stored=battery.energy(level),
        terminal=ahead.after_day,
        sells=may_sell(battery, prices, day.steps),
    )
    slots = best_windows(objective)
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
