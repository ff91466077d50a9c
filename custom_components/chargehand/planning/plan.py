"""The plan: when to charge from the grid and how far, at the least expected cost."""

from math import isfinite

import numpy as np

from .battery import Battery
from .choices import Choice
from .faults import BadBattery
from .forecourse import Ahead, expected
from .made import Made, reason
from .outlook import Scenarios, check
from .play import course
from .result import Plan, PlannedHour, PlannedWindow
from .search import best_windows
from .tariff import Prices
from .task import Task
from .windows import Limits
from .worth import before, for_ever, night

LATER_ROOF = (0.2, 1.0, 1.8)
"""What the roof gives on days beyond the horizon, in shares of its last 24 hours: dull and bright days come in turn."""


def make_plan(
    battery: Battery, level: float, prices: Prices, scenarios: Scenarios, limits: Limits | None = None
) -> Plan:
    """Plan the windows of the coming day from a level in % at the start of the prices' horizon.

    The inverter's windows repeat daily, so they are planned to the same time tomorrow, before the scenario is known. What comes later in the
    horizon is planned anew by then, and beyond it the last 24 hours come again and again, under a roof that gives less or more. Raises
    PlanningFault.
    """
    horizon = prices.horizon
    check(scenarios, horizon)
    if not isfinite(level) or not 0 <= level <= 100:
        raise BadBattery(f"the battery's level is {level:g} %: give 0 to 100")
    limits = limits or Limits()
    over = course(battery, prices, scenarios.load, scenarios.solar)
    steps, day = horizon.steps, min(horizon.first_day, horizon.steps)
    whole = round(24 / horizon.step_hours)

    def choice(first: int, last: int) -> Choice:
        return Choice(battery=battery, limits=limits, horizon=horizon, first=first, last=last)

    usual = _later_days(scenarios)
    last_day = course(battery, prices, usual.load, usual.solar).part(steps - whole, steps)
    end = for_ever(night(choice(steps - whole, steps), last_day, usual.weights))
    rest = night(choice(day, steps), over.part(day, steps), scenarios.weights) if day < steps else None
    later = before(rest, end) if rest is not None else end
    stored = battery.energy(level)
    task = Task(choice=choice(0, day), over=over.part(0, day), weights=scenarios.weights, stored=stored, later=later)
    slots = best_windows(task)
    ahead = Ahead(over=over, weights=scenarios.weights, steps=day, rest=rest, end=end)
    made = Made(
        level=level,
        prices=prices,
        scenarios=scenarios,
        task=task,
        ahead=ahead,
        slots=slots,
        with_windows=expected(ahead, slots, stored),
        without=expected(ahead, (), stored),
    )
    return Plan(
        windows=tuple(
            PlannedWindow(
                start=horizon.at(slot.begin), end=horizon.at(slot.end), power_kw=slot.power, stop_level=slot.stop
            )
            for slot in slots
        ),
        target_level=made.target,
        grid_charge_kwh=made.charge_kwh,
        expected_cost=made.with_windows.cost,
        cost_without=made.without.cost,
        saving=made.without.cost - made.with_windows.cost,
        hours=_hours(made),
        reason=reason(made),
    )


def _later_days(scenarios: Scenarios) -> Scenarios:
    """Days beyond the horizon."""
    if not scenarios.solar.any():
        return scenarios
    count = len(LATER_ROOF)
    return Scenarios(
        weights=np.tile(scenarios.weights, count) / count,
        load=np.tile(scenarios.load, (count, 1)),
        solar=np.concatenate([share * scenarios.solar for share in LATER_ROOF]),
    )


def _hours(made: Made) -> tuple[PlannedHour, ...]:
    starts = made.prices.horizon.starts
    load = made.scenarios.weights @ made.scenarios.load
    solar = made.scenarios.weights @ made.scenarios.solar
    begun = [at for at, start in enumerate(starts) if at == 0 or start.minute == 0]
    rows = []
    for first, last in zip(begun, [*begun[1:], len(starts)], strict=True):
        span = slice(first, last)
        rows.append(
            PlannedHour(
                start=starts[first],
                buy=float(made.prices.buy[span].mean()),
                sell=float(made.prices.sell[span].mean()),
                load_kwh=float(load[span].sum()),
                solar_kwh=float(solar[span].sum()),
                grid_charge_kwh=float(made.with_windows.charge[span].sum()),
                level=made.battery.level(float(made.with_windows.levels[last - 1])),
            )
        )
    return tuple(rows)
