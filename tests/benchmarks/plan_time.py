"""Seconds that a plan takes, by the clock and of the processor, for a night rate, two cheap times and half-hourly prices. Prints; nothing is asserted."""

import argparse
import statistics
import time

from tests.benchmarks.houses.course import course
from tests.benchmarks.houses.evening import evening
from tests.benchmarks.houses.house import House
from tests.benchmarks.houses.street import STREET
from tests.benchmarks.houses.year import planned
from tests.benchmarks.table import show

LEVEL = 30.0


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--plans", type=int, default=24, help="of each house, over the year")
    plans = parser.parse_args().plans
    named = {house.name: house for house in STREET}
    houses = {
        "night rate": named["reference"],
        "two cheap times": named["P25, two cheap times"],
        "half-hourly prices": named["half-hourly, big roof"],
    }
    rows = []
    for name, house in houses.items():
        took = _seconds(house, plans)
        figures = [figure(seconds) for figure in (statistics.median, max) for seconds in zip(*took, strict=True)]
        rows.append((name, *(f"{one:.3f}" for one in figures)))
    head = ("tariff", "median, clock", "median, processor", "most, clock", "most, processor")
    show(f"Seconds of {plans} plans over the year", head, rows)


def _seconds(house: House, plans: int) -> list[tuple[float, float]]:
    over = course(house, 1)
    took = []
    for day in range(50, 350, max(300 // plans, 1))[:plans]:
        known = evening(house, over, day, LEVEL)
        clock, processor = time.perf_counter(), time.process_time()
        planned(house, known)
        took.append((time.perf_counter() - clock, time.process_time() - processor))
    return took


if __name__ == "__main__":
    main()
