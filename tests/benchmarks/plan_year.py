"""What a year of planned nights costs beside simple rules and perfect foresight. Prints; nothing is asserted."""

import argparse
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from custom_components.chargehand.planning import Band, Tariff
from tests.benchmarks.houses.house import Course, House, course, read_house
from tests.benchmarks.houses.year import chargehand, cost, full, full_in_winter, least, nothing
from tests.benchmarks.table import show

REFERENCE = Path(__file__).parent / "houses" / "reference.yaml"
ERROR = 0.28
"""Relative error of the day-ahead solar forecast of a day's energy."""
FORTNIGHTS = (14, 105, 196, 287)
"""First days of four fortnights, one a season, for the sweep."""
HOUSES = 20


@dataclass(frozen=True, kw_only=True, slots=True)
class Costs:
    """What each way costs."""

    none: float
    full: float
    winter: float
    chargehand: float
    best: float

    def captured(self, paid: float) -> float:
        """Share of what can be saved that is saved."""
        return (self.none - paid) / (self.none - self.best)


def costs(house: House, over: Course, days: Sequence[int], error: float, seed: int) -> Costs:
    """All ways over the same days."""
    ways = (nothing, full(house), full_in_winter(house), chargehand(house))
    paid = [cost(house, over, days, way, error, seed) for way in ways]
    return Costs(none=paid[0], full=paid[1], winter=paid[2], chargehand=paid[3], best=least(house, over, days))


def swept(at: int, seed: int) -> House:
    """A house of the sweep: size, battery, tariff and roof differ."""
    rng = np.random.default_rng((seed, at))
    shapes = (
        (Band(start=23 * 60 + 30, end=5 * 60, buy=0.11),),
        (Band(start=2 * 60, end=6 * 60, buy=0.15), Band(start=13 * 60, end=15 * 60, buy=0.18)),
        (Band(start=22 * 60, end=6 * 60, buy=0.20),),
    )
    return House(
        load_kwh=float(rng.choice([2200, 3800, 6000])),
        solar_kwp=float(rng.choice([0, 3, 6, 9])),
        capacity_kwh=float(rng.choice([4.5, 9, 13])),
        power_kw=float(rng.choice([2, 3])),
        tariff=Tariff(bands=shapes[at % 4] if at % 4 < 3 else (), buy=0.32, sell=float(rng.choice([0.0, 0.06, 0.1]))),
        half_hourly=at % 4 == 3,
    )


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--house", type=Path, default=REFERENCE)
    parser.add_argument("--load", type=Path, help="CSV of half-hourly kWh")
    parser.add_argument("--solar", type=Path, help="CSV of half-hourly kWh")
    parser.add_argument("--forecast-error", type=float, default=ERROR)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--days", type=int, default=365)
    parser.add_argument("--sweep", action="store_true", help="twenty houses, a fortnight of each season")
    told = parser.parse_args()
    begun = time.perf_counter()
    if told.sweep:
        _sweep(told.forecast_error, told.seed)
    else:
        house = read_house(told.house)
        over = course(house, told.seed, told.load, told.solar)
        _print(costs(house, over, range(told.days), told.forecast_error, told.seed))
    print(f"{time.perf_counter() - begun:.0f} s")


def _print(paid: Costs) -> None:
    rows = (
        ("no night charge", paid.none),
        ("full every night", paid.full),
        ("full October to March", paid.winter),
        ("Chargehand", paid.chargehand),
        ("perfect foresight", paid.best),
    )
    show(
        "A year",
        ("way", "cost", "captured"),
        [(way, f"{spent:.2f}", f"{paid.captured(spent):.3f}") for way, spent in rows],
    )


def _sweep(error: float, seed: int) -> None:
    days = [first + at for first in FORTNIGHTS for at in range(14)]
    rows = []
    for at in range(HOUSES):
        house = swept(at, seed)
        paid = costs(house, course(house, seed + at), days, error, seed + at)
        kind = "half-hourly" if house.half_hourly else f"{len(house.tariff.bands)} cheap"
        text = f"{house.load_kwh:.0f} kWh, {house.solar_kwp:.0f} kWp, {house.capacity_kwh:g} kWh, {kind}"
        spent = (paid.none, paid.full, paid.winter, paid.chargehand, paid.best)
        dearer = paid.chargehand > min(paid.full, paid.winter) + 0.005
        rows.append(
            (
                text,
                *(f"{one:.2f}" for one in spent),
                f"{paid.captured(paid.chargehand):.2f}",
                "dearer" if dearer else "",
            )
        )
    show("A fortnight of each season", ("house", "none", "full", "winter", "Chargehand", "best", "captured", ""), rows)


if __name__ == "__main__":
    main()
