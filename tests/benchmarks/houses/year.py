"""Ways to use a battery, played evening for evening, and the least cost there is."""

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta

import numpy as np

from custom_components.chargehand.core.planning import (
    Horizon,
    Plan,
    PlannedWindow,
    Prices,
    Scenarios,
    dated_over_tariff,
    given_load,
    hours_ahead,
    joint,
    load_from_history,
    make_plan,
    no_solar,
    solar_from_forecast,
    tariff_prices,
)
from tests.benchmarks.houses.calendar import BEGIN, place
from tests.benchmarks.houses.course import Course
from tests.benchmarks.houses.evening import Evening, evening
from tests.benchmarks.houses.house import House
from tests.benchmarks.houses.player import Cells, play_day
from tests.core.planning.referee import Days, least_cost

FIRST_LEVEL = 30.0
_CHEAP_HOURS = 4
_KNOWS_HOURS = 48

type Way = Callable[[Evening], tuple[PlannedWindow, ...]]
"""The windows of the coming day."""


def nothing(_: Evening) -> tuple[PlannedWindow, ...]:
    """No charge at night."""
    return ()


def full(house: House) -> Way:
    """To 100 % in all cheap hours of the tariff, or in the four cheapest hours in a row, every night."""

    def way(known: Evening) -> tuple[PlannedWindow, ...]:
        prices = known_prices(house, known, Horizon(start=known.start, hours=26))
        horizon = prices.horizon
        buy = prices.buy[: horizon.first_day]
        if house.half_hourly is None:
            cheap = buy < house.tariff.buy - 1e-6
            edges = np.flatnonzero(np.diff(np.concatenate(([False], cheap, [False])).astype(int)))
            spans = list(zip(edges[::2], edges[1::2], strict=True))
        else:
            steps = 2 * _CHEAP_HOURS
            begin = int(np.argmin(np.convolve(buy, np.ones(steps), "valid")))
            spans = [(begin, begin + steps)]
        return tuple(
            PlannedWindow(
                start=horizon.at(int(a)), end=horizon.at(int(b)), power_kw=house.battery.charge_kw, stop_level=100
            )
            for a, b in spans
        )

    return way


def full_in_winter(house: House) -> Way:
    """The same from October to March, nothing in summer."""
    every = full(house)
    return lambda known: every(known) if known.start.month in {10, 11, 12, 1, 2, 3} else ()


def chargehand(house: House) -> Way:
    """As planned."""
    return lambda known: planned(house, known).windows


def known_prices(house: House, known: Evening, horizon: Horizon) -> Prices:
    """The tariff's prices, or those that are published and the tariff's after them."""
    if house.half_hourly is None:
        return tariff_prices(house.tariff, horizon)
    return dated_over_tariff(known.prices, house.tariff, horizon)[0]


def planned(house: House, known: Evening) -> Plan:
    """The plan of an evening."""
    has_roof = any(known.forecast.values())
    hours = hours_ahead(dated=house.half_hourly is not None, solar=has_roof)
    horizon = Horizon(start=known.start, hours=hours)
    load = load_from_history(known.history, horizon, outdoor=known.outdoor)
    if load is None:
        load = given_load(house.load_kwh / 365, horizon)
    solar = solar_from_forecast(known.forecast, horizon, pairs=known.pairs) if has_roof else no_solar(horizon)
    return make_plan(house.battery, known.level, known_prices(house, known, horizon), joint(load, solar), house.limits)


def told_all(house: House, over: Course) -> Way:
    """As planned by one who knows load, roof and prices of the next two days."""

    def way(known: Evening) -> tuple[PlannedWindow, ...]:
        horizon = Horizon(start=known.start, hours=_KNOWS_HOURS)
        span = slice(place(known.start), place(known.start) + horizon.steps)
        scenarios = Scenarios(weights=np.ones(1), load=over.load[np.newaxis, span], solar=over.solar[np.newaxis, span])
        prices = Prices(horizon=horizon, buy=over.buy[span], sell=over.sell[span])
        return make_plan(house.battery, known.level, prices, scenarios, house.limits).windows

    return way


@dataclass(frozen=True, slots=True)
class Paid:
    """What each way costs, and processor seconds that it took to play Chargehand's."""

    none: float
    full: float
    winter: float
    chargehand: float
    knowing: float
    best: float
    seconds: float

    @property
    def to_save(self) -> float:
        """What perfect foresight saves."""
        return self.none - self.best

    def captured(self, spent: float) -> float:
        """Share of it that a way saves."""
        return (self.none - spent) / self.to_save


def paid(house: House, over: Course, days: Sequence[int]) -> Paid:
    """All ways over the same days."""
    begun = time.process_time()
    ours = cost(house, over, days, chargehand(house))
    seconds = time.process_time() - begun
    none, always, winter, knowing = (
        cost(house, over, days, way) for way in (nothing, full(house), full_in_winter(house), told_all(house, over))
    )
    return Paid(none, always, winter, ours, knowing, least(house, over, days), seconds)


def weighted(houses: Sequence[Paid]) -> float:
    """What Chargehand saves in all houses, of what can be saved in them."""
    return sum(one.none - one.chargehand for one in houses) / sum(one.to_save for one in houses)


def cost(house: House, over: Course, days: Sequence[int], way: Way) -> float:
    """What the meter costs for days that follow each other, counted from BEGIN's; each way under the same weather and forecasts."""
    cells = Cells(house=house, stored=house.battery.energy(FIRST_LEVEL))
    return sum(play_day(cells, over, day, way(evening(house, over, day, cells.level))) for day in days)


def least(house: House, over: Course, days: Sequence[int]) -> float:
    """The least that any control with perfect foresight pays for the same days, by linear programme."""
    span = slice(place(BEGIN + timedelta(days=days[0])), place(BEGIN + timedelta(days=days[-1] + 1)))
    whole = Days(
        hours=0.5,
        starts=(),
        buy=over.buy[span],
        sell=over.sell[span],
        load=over.load[span],
        solar=over.solar[span],
    )
    # Without a taper: the player's begins later than the one that Chargehand knows.
    untapered = replace(house.battery, taper_from=100)
    begun = untapered.energy(FIRST_LEVEL)
    return least_cost(untapered, whole, begun, min(begun, untapered.energy(untapered.reserve_level)))
