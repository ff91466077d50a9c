"""The plan: when to charge from the grid and how far, at the least expected cost."""

from dataclasses import dataclass
from math import isfinite

import numpy as np

from .battery import Battery
from .choices import Choice
from .faults import BadBattery
from .forecourse import Ahead, Expected, expected
from .history import main_day
from .outlook import Scenarios, check
from .play import course
from .reason import HeldBack, Reason, ReasonKey
from .result import Plan, PlannedHour, PlannedWindow
from .search import best_windows
from .tariff import Prices
from .task import Task
from .windows import Limits, SlotSet
from .worth import before, for_ever, night

CHARGES_KWH = 0.05
"""A plan whose windows take less from the grid only holds."""
LACKS_SHARE = 0.05
"""Dear hours lack energy when they buy more than this share of the day's load."""
ALL_THE_TIME = 0.98
"""Windows that charge with this share of their power use all their time."""
REACHED_PERCENT = 1.5
"""A stop level missed by less counts as reached."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class _Made:
    """All that a plan is worded from."""

    battery: Battery
    level: float
    prices: Prices
    scenarios: Scenarios
    limits: Limits
    day_steps: int
    slots: SlotSet
    with_windows: Expected
    without: Expected

    @property
    def charge_kwh(self) -> float:
        return float(self.with_windows.charge[: self.day_steps].sum())

    @property
    def target(self) -> float:
        return float(max((slot.stop for slot in self.slots), default=self.level))


def make_plan(
    battery: Battery, level: float, prices: Prices, scenarios: Scenarios, limits: Limits | None = None
) -> Plan:
    """Plan the windows of the coming day from a level in % at the start of the prices' horizon.

    The inverter's windows repeat daily, so they are planned to the same time tomorrow, before the scenario is known. What comes later in the
    horizon is planned anew by then, and beyond it the last 24 hours come again and again. Raises PlanningFault.
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

    last_day = night(choice(steps - whole, steps), over.part(steps - whole, steps), scenarios.weights)
    end = for_ever(last_day)
    rest = night(choice(day, steps), over.part(day, steps), scenarios.weights) if day < steps else None
    later = before(rest, end) if rest is not None else end
    stored = battery.energy(level)
    slots = best_windows(
        Task(choice=choice(0, day), over=over.part(0, day), weights=scenarios.weights, stored=stored, later=later)
    )
    ahead = Ahead(over=over, weights=scenarios.weights, steps=day, rest=rest, end=end)
    made = _Made(
        battery=battery,
        level=level,
        prices=prices,
        scenarios=scenarios,
        limits=limits,
        day_steps=day,
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
        reason=_reason(made),
    )


def _hours(made: _Made) -> tuple[PlannedHour, ...]:
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


def _reason(made: _Made) -> Reason:
    horizon, buy = made.prices.horizon, made.prices.buy
    day = main_day(horizon)
    there = np.array([start.date() == day for start in horizon.starts])
    need = float((made.scenarios.weights @ made.scenarios.load)[there].sum())
    charge = made.with_windows.charge[: made.day_steps]
    buy_now = float(charge @ buy[: made.day_steps] / charge.sum()) if charge.sum() > CHARGES_KWH else float(buy.min())
    dear = np.array([made.battery.worth_it(buy_now, float(price)) for price in buy[: made.day_steps]])
    # A smaller charge tomorrow night is spared, too, but at tomorrow night's price: the charge does not pay by that.
    spared = np.maximum(made.without.imports - made.with_windows.imports, 0)[: made.day_steps] * dear
    spared_at = spared @ buy[: made.day_steps]
    buy_later = float(spared_at / spared.sum()) if spared.sum() > CHARGES_KWH else float(buy.max())
    # A charge serves the 24 hours from its window on: what is bought before, it could not have spared.
    begin = min((slot.begin for slot in made.slots), default=0)
    served = slice(begin, begin + made.day_steps)
    lacking = np.array([made.battery.worth_it(buy_now, float(price)) for price in buy[served]])
    lack = float(made.with_windows.imports[served][lacking].sum())
    lacks = lack > LACKS_SHARE * max(need, CHARGES_KWH)
    reached = _reached(made)
    if not made.slots:
        unworthy = lacks or not dear.any()
        key = ReasonKey.NOT_WORTH_IT if unworthy else ReasonKey.NO_NEED
        held_back = HeldBack.NOT_WORTH_IT if unworthy else HeldBack.NOTHING
    else:
        key = ReasonKey.CHARGE if made.charge_kwh > CHARGES_KWH else ReasonKey.HOLD
        held_back = _held_back(made, reached, lacks=lacks)
    return Reason(
        key=key,
        held_back=held_back,
        day=day,
        tomorrow=day != horizon.starts[0].date(),
        need_kwh=need,
        solar_kwh=float((made.scenarios.weights @ made.scenarios.solar)[there].sum()),
        level=made.level,
        stop_level=made.target,
        reached_level=reached,
        grid_charge_kwh=made.charge_kwh,
        buy_now=buy_now,
        buy_later=buy_later,
        saving=made.without.cost - made.with_windows.cost,
    )


def _reached(made: _Made) -> float:
    if not made.slots:
        return made.level
    highest = max(made.slots, key=lambda slot: slot.stop)
    return made.battery.level(float(made.with_windows.levels[highest.end - 1]))


def _all_the_time(made: _Made) -> bool:
    """Whether the windows charge at full power from their start to their end."""
    hours = made.prices.horizon.step_hours
    most = sum((slot.end - slot.begin) * hours * slot.power for slot in made.slots)
    return made.charge_kwh * made.battery.charge_efficiency >= ALL_THE_TIME * most


def _held_back(made: _Made, reached: float, *, lacks: bool) -> HeldBack:
    if not lacks:
        return HeldBack.NOTHING
    if reached < made.target - REACHED_PERCENT or _all_the_time(made):
        slower = made.limits.power(made.battery) < made.battery.charge_kw
        return HeldBack.POWER if slower else HeldBack.WINDOW_TOO_SHORT
    if made.target >= int(made.battery.highest_level):
        return HeldBack.CAPACITY
    if made.level < made.battery.reserve_level:
        return HeldBack.RESERVE
    return HeldBack.NOT_WORTH_IT
