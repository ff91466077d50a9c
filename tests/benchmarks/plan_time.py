"""Seconds that a plan takes, by the clock and of the processor, for kinds of tariff, and for the most that is asked of it. Prints; nothing is asserted."""

import argparse
import statistics
import time
from dataclasses import dataclass, replace

from custom_components.chargehand.core.planning import (
    Horizon,
    joint,
    load_from_history,
    make_plan,
    no_solar,
    solar_from_forecast,
)
from tests.benchmarks.houses.course import course
from tests.benchmarks.houses.evening import evening
from tests.benchmarks.houses.house import House
from tests.benchmarks.houses.street import STREET
from tests.benchmarks.houses.year import known_prices
from tests.benchmarks.table import show

LEVEL = 30.0
NAMED = {house.name: house for house in STREET}


@dataclass(frozen=True, kw_only=True, slots=True)
class Case:
    """A house, and what is asked of its plan."""

    house: House
    hours: float = 36
    scenarios: int = 40


_HALF_HOURLY = NAMED["half-hourly, big roof"]
CASES = {
    "night rate": Case(house=NAMED["reference"]),
    "two cheap times": Case(house=NAMED["P25, two cheap times"]),
    "half-hourly prices": Case(house=_HALF_HOURLY),
    "half-hourly, 48 hours, 60 scenarios": Case(house=_HALF_HOURLY, hours=48, scenarios=60),
    "half-hourly, ten windows": Case(house=replace(_HALF_HOURLY, windows=10)),
}


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--plans", type=int, default=12, help="of each case, over the year")
    plans = parser.parse_args().plans
    took = {name: _seconds(case, plans) for name, case in CASES.items()}
    base = statistics.median(seconds for _, seconds in took["night rate"])
    rows = []
    for name, pairs in took.items():
        figures = [figure(seconds) for figure in (statistics.median, max) for seconds in zip(*pairs, strict=True)]
        ratio = statistics.median(seconds for _, seconds in pairs) / base
        rows.append((name, *(f"{one:.3f}" for one in figures), f"{ratio:.2f}"))
    head = ("plan", "median, clock", "median, processor", "most, clock", "most, processor", "of a night rate's")
    show(f"Seconds of {plans} plans over the year", head, rows)


def _seconds(case: Case, plans: int) -> list[tuple[float, float]]:
    house, took = case.house, []
    over = course(house, 1)
    for day in range(20, 350, max(330 // plans, 1))[:plans]:
        known = evening(house, over, day, LEVEL)
        horizon = Horizon(start=known.start, hours=case.hours)
        load = load_from_history(known.history, horizon)
        solar = solar_from_forecast(known.forecast, horizon, pairs=known.pairs) if known.forecast else no_solar(horizon)
        if load is None:
            raise ValueError(f"{house.name} has no history on day {day}")
        prices, scenarios = known_prices(house, known, horizon), joint(load, solar, case.scenarios)
        clock, processor = time.perf_counter(), time.process_time()
        make_plan(house.battery, known.level, prices, scenarios, house.limits)
        took.append((time.perf_counter() - clock, time.process_time() - processor))
    return took


if __name__ == "__main__":
    main()
