"""What a night's charge has earned: one day as it was metered, played with the charge and without it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np

from .battery import Battery
from .choices import Choice
from .faults import BadOutlook
from .horizon import Horizon
from .play import course, play
from .tariff import Floats, Prices
from .windows import Limits, candidates
from .worth import for_ever, night

STEP_MINUTES = 5
"""Windows that were set by hand begin and end at any minute; finer than this nothing is metered."""
DAY_HOURS = 24


@dataclass(frozen=True, kw_only=True, slots=True)
class Charge:
    """What a window brought: `kwh` more stored at its end than at its start, both aware."""

    start: datetime
    end: datetime
    kwh: float


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
    """`cost` with the charges and `cost_without`, of the time from the first charge on, each less the worth of what is stored at its end."""

    bill: Bill
    cost: float
    cost_without: float

    @property
    def saving(self) -> float:
        """What the charges earned; less than 0 where they cost more than they spared."""
        return self.cost_without - self.cost


@dataclass(frozen=True, kw_only=True, slots=True)
class _Span:
    """A charge in steps: `into` (its steps) kWh stored in each."""

    begin: int
    end: int
    into: Floats


def day_prices(start: datetime, buy: Sequence[float], sell: Sequence[float], minutes: int) -> Prices:
    """The 24 hours from an aware start, from prices for each so many `minutes`. Raises BadOutlook, BadHorizon."""
    horizon = Horizon(start=start, hours=DAY_HOURS, step_minutes=STEP_MINUTES)
    times = minutes // STEP_MINUTES
    prices = [np.repeat(np.array(side, dtype=np.float64), times)[: horizon.steps] for side in (buy, sell)]
    if not all(len(side) == horizon.steps and np.isfinite(side).all() for side in prices):
        raise BadOutlook("the prices do not cover the day: give one for each of its steps")
    return Prices(horizon=horizon, buy=prices[0], sell=prices[1])


def metered_steps(kwh: Mapping[datetime, float], horizon: Horizon) -> Floats | None:
    """Energy of each step from that of whole hours (by start in UTC), spread evenly in them; None where an hour is not known."""
    starts = [start.astimezone(UTC) for start in horizon.starts]
    hours = [start.replace(minute=0, second=0, microsecond=0) for start in starts]
    # The hour before counts too: what comes after a gap is the energy of the whole gap.
    if any(hour not in kwh for hour in (hours[0] - timedelta(hours=1), *hours)):
        return None
    return np.array([kwh[hour] for hour in hours]) * horizon.step_hours


def bill(battery: Battery, prices: Prices, charges: Sequence[Charge], limits: Limits) -> Bill:
    """What charges took from the grid, before anything is known of the roof: all of it from the grid."""
    grid = cost = 0.0
    for span in _spans(battery, prices.horizon, charges, limits):
        taken = span.into / battery.charge_efficiency
        grid += float(taken.sum())
        cost += float(taken @ prices.buy[span.begin : span.end])
    return Bill(grid_kwh=grid, cost=cost)


def earned(battery: Battery, day: MeteredDay, level: float, charges: Sequence[Charge], limits: Limits) -> Earned:
    """What charges earned, from `level` in % at the start of the first.

    Both ways start there, and the battery follows the load outside the charges. In them goes in what was metered to have gone in. What is
    stored at the end is worth what the planner gives for it if days like this one came again and again. Raises PlanningFault.
    """
    horizon = day.prices.horizon
    spans = _spans(battery, horizon, charges, limits)
    if not spans:
        return Earned(bill=Bill(grid_kwh=0.0, cost=0.0), cost=0.0, cost_without=0.0)
    over = course(battery, day.prices, day.load[np.newaxis], day.solar[np.newaxis])
    none = candidates([()], battery)
    choice = Choice(battery=battery, limits=limits, horizon=horizon, first=0, last=horizon.steps)
    later = for_ever(night(choice, over, np.ones(1)))
    first = spans[0].begin
    without = play(over.part(first, horizon.steps), none, np.full((1, 1), battery.energy(level)))
    cost, stored, at = 0.0, battery.energy(level), first
    grid = paid = 0.0
    for span in spans:
        followed = play(over.part(at, span.begin), none, np.full((1, 1), stored))
        cost, stored, at = cost + float(followed.cost[0, 0]), float(followed.stored[0, 0]), span.end
        lack, buy = over.lack[0, span.begin : span.end], over.buy[span.begin : span.end]
        net = span.into / battery.charge_efficiency + lack
        bought = np.maximum(net, 0)
        cost += float(buy @ bought + over.sell[span.begin : span.end] @ (net - bought))
        stored = min(stored + float(span.into.sum()), battery.capacity_kwh)
        charge = np.maximum(bought - np.maximum(lack, 0), 0)
        grid, paid = grid + float(charge.sum()), paid + float(buy @ charge)
    followed = play(over.part(at, horizon.steps), none, np.full((1, 1), stored))
    return Earned(
        bill=Bill(grid_kwh=grid, cost=paid),
        cost=float(cost + followed.cost[0, 0] + later.at(followed.stored)[0, 0]),
        cost_without=float(without.cost[0, 0] + later.at(without.stored)[0, 0]),
    )


def _spans(battery: Battery, horizon: Horizon, charges: Sequence[Charge], limits: Limits) -> list[_Span]:
    """The charges that stored something, in order; from their start at the windows' power, or as much more as was metered."""
    hours, found = horizon.step_hours, list[_Span]()
    for charge in sorted(charges, key=lambda one: one.start):
        begin, end = (_step(horizon, at) for at in (charge.start, charge.end))
        begin = max(begin, found[-1].end if found else 0)
        end = min(max(end, begin + 1), horizon.steps)
        if charge.kwh <= 0 or begin >= end:
            continue
        power = max(limits.power(battery), charge.kwh / ((end - begin) * hours))
        so_far = np.minimum(power * hours * np.arange(end - begin + 1), charge.kwh)
        found.append(_Span(begin=begin, end=end, into=np.diff(so_far)))
    return found


def _step(horizon: Horizon, at: datetime) -> int:
    # Times of one zone would be subtracted by the clock, which is moved in two nights of the year.
    return round((at.astimezone(UTC) - horizon.start.astimezone(UTC)) / timedelta(minutes=horizon.step_minutes))
