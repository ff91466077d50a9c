"""What a night's charge has earned: one day as it was metered, played with the charge and without it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np

from .battery import Battery
from .candidates import Limits, candidates
from .faults import BadForecast
from .feasible import Feasible
from .horizon import Horizon
from .simulate import Dynamics, bill, simulate, stage
from .tariff import Floats, Prices
from .value_function import transition

STEP_MINUTES = 5
"""Windows that were set by hand begin and end at any minute; finer than this nothing is metered."""
DAY_HOURS = 24


@dataclass(frozen=True, kw_only=True, slots=True)
class Charge:
    """What a window did from `start` to `end`, both aware: `kwh` more stored at its end; 0 where the battery only rested.

    `power_kw` is the window's, at the battery's terminals; None: the highest there is.
    """

    start: datetime
    end: datetime
    kwh: float
    power_kw: float | None = None


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class MeteredDay:
    """24 hours with their prices; `load` and `solar` kWh (steps) as metered."""

    prices: Prices
    load: Floats
    solar: Floats


@dataclass(frozen=True, kw_only=True, slots=True)
class Bill:
    """What charges took: `grid_kwh` at the meter, and what that cost."""

    grid_kwh: float
    cost: float


@dataclass(frozen=True, kw_only=True, slots=True)
class Earned:
    """`cost` with the windows and `cost_without`, of the time from the first on, each less the worth of what is stored at its end."""

    bill: Bill
    cost: float
    cost_without: float

    @property
    def saving(self) -> float:
        """What the windows earned; less than 0 where they cost more than they spared."""
        return self.cost_without - self.cost


@dataclass(frozen=True, kw_only=True, slots=True)
class _Span:
    """A window in steps: `into` (its steps) kWh stored in each."""

    begin: int
    end: int
    into: Floats


def day_prices(start: datetime, buy: Sequence[float], sell: Sequence[float], minutes: int) -> Prices:
    """Return the 24 hours from an aware start, from prices for each so many `minutes`. Raises BadForecast, BadHorizon."""
    horizon = Horizon(start=start, hours=DAY_HOURS, step_minutes=STEP_MINUTES)
    times = minutes // STEP_MINUTES
    prices = [np.repeat(np.array(side, dtype=np.float64), times)[: horizon.steps] for side in (buy, sell)]
    if not all(len(side) == horizon.steps and np.isfinite(side).all() for side in prices):
        raise BadForecast("the prices do not cover the day: give one for each of its steps")
    return Prices(horizon=horizon, buy=prices[0], sell=prices[1])


def metered_steps(kwh: Mapping[datetime, float], horizon: Horizon) -> Floats | None:
    """Return the energy of each step from that of whole hours (by start in UTC), spread evenly; None where an hour is not known."""
    starts = [start.astimezone(UTC) for start in horizon.starts]
    hours = [start.replace(minute=0, second=0, microsecond=0) for start in starts]
    # The hour before counts too: what comes after a gap is the energy of the whole gap.
    if any(hour not in kwh for hour in (hours[0] - timedelta(hours=1), *hours)):
        return None
    return np.array([kwh[hour] for hour in hours]) * horizon.step_hours


def charge_bill(battery: Battery, prices: Prices, charges: Sequence[Charge], limits: Limits) -> Bill:
    """Return what charges took from the grid, before anything is known of the sun: all of it from the grid."""
    grid = cost = 0.0
    for span in _spans(battery, prices.horizon, charges, limits):
        taken = span.into / battery.charge_efficiency
        grid += float(taken.sum())
        cost += float(taken @ prices.buy[span.begin : span.end])
    return Bill(grid_kwh=grid, cost=cost)


def earned(battery: Battery, day: MeteredDay, level: float, charges: Sequence[Charge], limits: Limits) -> Earned:
    """Return what windows earned, from `level` in % at the start of the first.

    Both ways start there, and the battery follows the load outside the windows. In them goes in what was metered to have gone in, and the
    battery rests otherwise. What is stored at the end is worth what the planner gives for it if days like this one came again and again.
    Raises PlanningFault.
    """
    horizon = day.prices.horizon
    spans = _spans(battery, horizon, charges, limits)
    if not spans:
        return Earned(bill=Bill(grid_kwh=0.0, cost=0.0), cost=0.0, cost_without=0.0)
    over = stage(battery, day.prices, day.load[np.newaxis], day.solar[np.newaxis])
    at = Dynamics(over)
    none = candidates([()], battery)
    feasible = Feasible(battery=battery, limits=limits, horizon=horizon, first=0, last=horizon.steps)
    terminal = transition(feasible, over, np.ones(1)).repeated()
    first, begun = spans[0].begin, np.full((1, 1), battery.energy(level))
    without = simulate(over.part(first, horizon.steps), none, begun)
    cost, stored, done = 0.0, begun, first
    grid = paid = 0.0
    for span in spans:
        followed = simulate(over.part(done, span.begin), none, stored)
        steps = slice(span.begin, span.end)
        net_load, buy = over.net_load[0, steps], over.buy[steps]
        net = at.net(span.into, net_load)
        cost += float(followed.cost[0, 0]) + float(bill(net, buy, over.sell[steps]).sum())
        stored, done = np.minimum(followed.stored + span.into.sum(), battery.capacity_kwh), span.end
        charge = np.maximum(np.maximum(net, 0) - np.maximum(net_load, 0), 0)
        grid, paid = grid + float(charge.sum()), paid + float(buy @ charge)
    followed = simulate(over.part(done, horizon.steps), none, stored)
    return Earned(
        bill=Bill(grid_kwh=grid, cost=paid),
        cost=float(cost + followed.cost[0, 0] + terminal.at(followed.stored)[0, 0]),
        cost_without=float(without.cost[0, 0] + terminal.at(without.stored)[0, 0]),
    )


def _spans(battery: Battery, horizon: Horizon, charges: Sequence[Charge], limits: Limits) -> list[_Span]:
    """Return the windows in order; each charges from its start at its power, or as much faster as was metered, and rests from there."""
    hours, found = horizon.step_hours, list[_Span]()
    for charge in sorted(charges, key=lambda one: one.start):
        begin, end = (_step(horizon, at) for at in (charge.start, charge.end))
        begin = max(begin, found[-1].end if found else 0)
        end = min(max(end, begin + 1), horizon.steps)
        if begin >= end:
            continue
        kwh = max(charge.kwh, 0.0)
        power = limits.power(battery) if charge.power_kw is None else charge.power_kw
        power = max(power, kwh / ((end - begin) * hours))
        so_far = np.minimum(power * hours * np.arange(end - begin + 1), kwh)
        found.append(_Span(begin=begin, end=end, into=np.diff(so_far)))
    return found


def _step(horizon: Horizon, at: datetime) -> int:
    # Times of one zone would be subtracted by the clock, which is moved in two nights of the year.
    return round((at.astimezone(UTC) - horizon.start.astimezone(UTC)) / timedelta(minutes=horizon.step_minutes))
