"""Ways to use a battery, played night for night on the bench's battery, and the least cost there is."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from functools import lru_cache

import numpy as np

from custom_components.chargehand.planning import (
    Horizon,
    Hour,
    Limits,
    Plan,
    PlannedWindow,
    Scenarios,
    given_load,
    joint,
    load_from_history,
    make_plan,
    no_solar,
    solar_from_forecast,
)
from tests.bench.battery import CAPACITY_WH, Battery
from tests.bench.flow import flow
from tests.bench.schedule import Duty, Task
from tests.benchmarks.houses.house import BEGIN, RESERVE_LEVEL, Course, Floats, House
from tests.planning.referee import Days, least_cost

STEP_S = 600.0
SPAN = 1800
HISTORY_DAYS = 42
FIRST_LEVEL = 30.0
LIMITS = Limits(windows=3, step_minutes=1, lowest_stop_level=10)


@dataclass(frozen=True, kw_only=True, slots=True)
class Evening:
    """What is known at a plan's start: the moment, the level in %, earlier hours, and what the weather service says."""

    start: datetime
    level: float
    history: Sequence[Hour]
    forecast: dict[datetime, float]
    pairs: Sequence[tuple[float, float]]


type Way = Callable[[Evening], tuple[PlannedWindow, ...]]
"""The windows of the coming day."""


def nothing(_: Evening) -> tuple[PlannedWindow, ...]:
    """No charge at night."""
    return ()


def full(house: House) -> Way:
    """To 100 % in all cheap hours, every night."""

    def way(evening: Evening) -> tuple[PlannedWindow, ...]:
        horizon = Horizon(start=evening.start, hours=26)
        buy = house.prices(horizon).buy[: horizon.first_day]
        cheap = buy < (np.quantile(buy, 0.25) if house.half_hourly else house.tariff.buy - 1e-6)
        edges = np.flatnonzero(np.diff(np.concatenate(([False], cheap, [False])).astype(int)))
        return tuple(
            PlannedWindow(
                start=horizon.at(int(a)), end=horizon.at(int(b)), power_kw=house.battery.charge_kw, stop_level=100
            )
            for a, b in zip(edges[::2], edges[1::2], strict=True)
        )

    return way


def full_in_winter(house: House) -> Way:
    """The same from October to March, nothing in summer."""
    every = full(house)
    return lambda evening: every(evening) if evening.start.month in {10, 11, 12, 1, 2, 3} else ()


def chargehand(house: House) -> Way:
    """As planned."""
    return lambda evening: planned(house, evening).windows


def planned(house: House, evening: Evening) -> Plan:
    """The plan of an evening."""
    horizon = Horizon(start=evening.start)
    load = load_from_history(evening.history, horizon) or given_load(house.load_kwh / 365, horizon)
    has_roof = any(evening.forecast.values())
    solar = solar_from_forecast(evening.forecast, horizon, pairs=evening.pairs) if has_roof else no_solar(horizon)
    return make_plan(house.battery, evening.level, house.prices(horizon), joint(load, solar), LIMITS)


def told_all(house: House, over: Course) -> Way:
    """As planned by one who knows load and roof of the next 36 hours."""

    def way(evening: Evening) -> tuple[PlannedWindow, ...]:
        horizon = Horizon(start=evening.start)
        first = over.at(evening.start)
        span = slice(first, first + horizon.steps)
        scenarios = Scenarios(weights=np.ones(1), load=over.load[np.newaxis, span], solar=over.solar[np.newaxis, span])
        return make_plan(house.battery, evening.level, house.prices(horizon), scenarios, LIMITS).windows

    return way


def cost(house: House, over: Course, days: Sequence[int], way: Way, error: float, seed: int) -> float:
    """What the meter costs for runs of days (counted from BEGIN), each way under the same weather and forecasts."""
    total, before = 0.0, -2
    battery = Battery(stored_wh=CAPACITY_WH * FIRST_LEVEL / 100)
    for day in days:
        if day != before + 1:
            battery = Battery(stored_wh=CAPACITY_WH * FIRST_LEVEL / 100)
        before = day
        windows = way(evening(over, day, battery.level, error, seed))
        total += _played(house, over, BEGIN + timedelta(days=day), windows, battery)
    return total


def evening(over: Course, day: int, level: float, error: float, seed: int) -> Evening:
    """What is known on the evening of a day counted from BEGIN."""
    start = BEGIN + timedelta(days=day)
    return Evening(
        start=start,
        level=level,
        history=_history(over, start),
        forecast=_forecast(over, start, error, seed),
        pairs=_pairs(over, day, error, seed),
    )


def least(house: House, over: Course, days: Sequence[int]) -> float:
    """The least that any control with perfect foresight pays for the same days, by linear programme."""
    return sum(_least(house, over, run) for run in _runs(days))


def _least(house: House, over: Course, run: Sequence[int]) -> float:
    steps: list[datetime] = []
    buy: list[Floats] = []
    sell: list[Floats] = []
    for day in run:
        horizon = Horizon(start=BEGIN + timedelta(days=day), hours=26)
        prices = house.prices(horizon)
        steps += horizon.starts[: horizon.first_day]
        buy.append(prices.buy[: horizon.first_day])
        sell.append(prices.sell[: horizon.first_day])
    first = over.at(steps[0])
    span = slice(first, first + len(steps))
    whole = Days(
        hours=0.5,
        starts=tuple(steps),
        buy=np.concatenate(buy),
        sell=np.concatenate(sell),
        load=over.load[span],
        solar=over.solar[span],
    )
    # Without the taper: the bench's begins later than the one that Chargehand is told.
    told = replace(house.battery, taper_from=100)
    begun = told.energy(FIRST_LEVEL)
    return least_cost(told, whole, begun, min(begun, told.energy(told.reserve_level)), house.most_fed_kw)


def _played(house: House, over: Course, start: datetime, windows: Sequence[PlannedWindow], battery: Battery) -> float:
    horizon = Horizon(start=start, hours=26)
    prices = house.prices(horizon)
    most_w = house.power_kw * house.scale * 1000
    paid = 0.0
    for step, begun in enumerate(horizon.starts[: horizon.first_day]):
        at = over.at(begun)
        load_w, solar_w = (2000 * house.scale * kwh[at] for kwh in (over.load, over.solar))
        net = 0.0
        for part in range(int(SPAN / STEP_S)):
            duty = _duty(house, windows, begun.astimezone(UTC) + timedelta(seconds=part * STEP_S))
            now = flow(battery, duty, load_w, solar_w, most_w, STEP_S)
            battery.run(now.battery_w, now.battery_a, STEP_S)
            net = now.grid_w * STEP_S / 3.6e6 / house.scale
            paid += prices.buy[step] * max(net, 0) + prices.sell[step] * min(net, 0)
    return paid


def _duty(house: House, windows: Sequence[PlannedWindow], moment: datetime) -> Duty:
    for window in windows:
        if window.start <= moment < window.end:
            return Duty(task=Task.CHARGE, watts=window.power_kw * house.scale * 1000, until=float(window.stop_level))
    return Duty(task=Task.FOLLOW_LOAD, until=RESERVE_LEVEL)


def _history(over: Course, start: datetime) -> list[Hour]:
    last = over.at(start)
    first = max(last - HISTORY_DAYS * 48, 0)
    sums = over.load[first:last].reshape(-1, 2).sum(axis=1)
    begun = over.begin + timedelta(minutes=30 * first)
    return [(begun + timedelta(hours=at), float(kwh)) for at, kwh in enumerate(sums)]


@lru_cache(maxsize=1000)
def _forecast(over: Course, start: datetime, error: float, seed: int) -> dict[datetime, float]:
    """The coming hours as told this evening: a day's error, another one for the day after, and some for each hour."""
    rng = np.random.default_rng((seed, start.date().toordinal()))
    factors = np.maximum(1 + error * rng.normal(size=3), 0.1)
    first = over.at(start)
    told = {}
    for at in range(36):
        begun = start.astimezone(UTC) + timedelta(hours=at)
        late = (begun.astimezone(start.tzinfo).date() - start.date()).days
        kwh = over.solar[first + 2 * at : first + 2 * at + 2].sum()
        told[begun] = float(kwh * factors[late] * max(rng.normal(1, 0.1), 0))
    return told


def _pairs(over: Course, day: int, error: float, seed: int) -> list[tuple[float, float]]:
    """What was told for each of the last days the evening before, and what came."""
    pairs = []
    for earlier in range(max(day - HISTORY_DAYS, 0), day - 1):
        start = BEGIN + timedelta(days=earlier)
        coming = start.date() + timedelta(days=1)
        told = _forecast(over, start, error, seed)
        sum_told = sum(kwh for at, kwh in told.items() if at.astimezone(start.tzinfo).date() == coming)
        midnight = over.at(datetime(coming.year, coming.month, coming.day, tzinfo=start.tzinfo))
        pairs.append((sum_told, float(over.solar[midnight : midnight + 48].sum())))
    return pairs


def _runs(days: Iterable[int]) -> list[list[int]]:
    runs: list[list[int]] = []
    for day in days:
        if runs and runs[-1][-1] == day - 1:
            runs[-1].append(day)
        else:
            runs.append([day])
    return runs
