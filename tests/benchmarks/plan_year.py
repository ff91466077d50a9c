"""What a year of planned nights costs beside simple rules and perfect foresight. Prints; nothing is asserted."""

import argparse
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from custom_components.chargehand.planning import Band, Tariff
from tests.benchmarks.houses.files import BadFile, read_course, read_house
from tests.benchmarks.houses.house import Course, House, course
from tests.benchmarks.houses.year import chargehand, cost, full, full_in_winter, least, nothing, told_all
from tests.benchmarks.table import show

REFERENCE = Path(__file__).parent / "houses" / "reference.yaml"
ERROR = 0.28
"""Relative error of the day-ahead solar forecast of a day's energy."""
FORTNIGHTS = (14, 105, 196, 287)
"""First days of four fortnights, one a season, for the sweep."""
HOUSES = 20
YEAR = 365


@dataclass(frozen=True, slots=True)
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
    return Costs(*(cost(house, over, days, way, error, seed) for way in ways), best=least(house, over, days))


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


def main(words: Sequence[str] | None = None) -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--house", type=Path, default=REFERENCE, help="YAML of battery and tariff, as reference.yaml")
    parser.add_argument("--load", type=Path, help="CSV of half-hourly kWh in the last column, from 1 January 00:00")
    parser.add_argument("--solar", type=Path, help="CSV of half-hourly kWh in the last column, from 1 January 00:00")
    parser.add_argument("--forecast-error", type=_share, default=ERROR, help="of a day's solar energy, 0.28 for 28 %%")
    parser.add_argument("--seed", type=_whole, default=1)
    parser.add_argument("--days", type=_days, default=YEAR)
    parser.add_argument(
        "--sweep", choices=("fortnights", "year"), help="twenty houses, of each a fortnight a season or a year"
    )
    parser.add_argument("--first", type=_whole, default=0, help="first house of the sweep, to go on with one")
    told = parser.parse_args(words)
    begun = time.perf_counter()
    if told.sweep:
        _sweep(told.sweep, told.first, told.forecast_error, told.seed)
    else:
        try:
            house = read_house(told.house)
            over = read_course(house, told.seed, told.days, told.load, told.solar)
        except BadFile as error:
            parser.error(str(error))
        paid = costs(house, over, range(told.days), told.forecast_error, told.seed)
        knowing = cost(house, over, range(told.days), told_all(house, over), told.forecast_error, told.seed)
        _print("A year" if told.days == YEAR else f"{told.days} days from 1 January", paid, knowing)
    print(f"{time.perf_counter() - begun:.0f} s")


def _share(word: str) -> float:
    if not 0 <= float(word) <= 2:
        raise argparse.ArgumentTypeError("give 0 to 2")
    return float(word)


def _whole(word: str) -> int:
    if int(word) < 0:
        raise argparse.ArgumentTypeError("give 0 or more")
    return int(word)


def _days(word: str) -> int:
    if not 1 <= int(word) <= YEAR:
        raise argparse.ArgumentTypeError(f"give 1 to {YEAR}")
    return int(word)


def _print(title: str, paid: Costs, knowing: float) -> None:
    rows = (
        ("no night charge", paid.none),
        ("full every night", paid.full),
        ("full October to March", paid.winter),
        ("Chargehand", paid.chargehand),
        ("Chargehand, told load and roof", knowing),
        ("perfect foresight", paid.best),
    )
    show(
        title,
        ("way", "cost", "captured"),
        [(way, f"{spent:.2f}", f"{paid.captured(spent):.3f}") for way, spent in rows],
    )


def _sweep(length: str, first: int, error: float, seed: int) -> None:
    days = range(YEAR) if length == "year" else [begin + at for begin in FORTNIGHTS for at in range(14)]
    rows = []
    for at in range(first, HOUSES):
        house = swept(at, seed)
        paid = costs(house, course(house, seed + at), days, error, seed + at)
        kind = "half-hourly" if house.half_hourly else ", ".join(f"{band.buy:.2f}" for band in house.tariff.bands)
        dearer = paid.chargehand > min(paid.full, paid.winter) + 0.005
        rows.append(
            (
                f"{at}: {house.load_kwh:.0f} kWh, {house.solar_kwp:.0f} kWp, {house.capacity_kwh:g} kWh, {house.power_kw:g} kW, {kind}",
                f"{paid.none:.2f}",
                f"{paid.none - paid.best:.2f}",
                *(f"{paid.captured(one):.3f}" for one in (paid.full, paid.winter, paid.chargehand)),
                "dearer than a rule" if dearer else "",
            )
        )
        print(*rows[-1], sep=" | ", flush=True)
    head = ("house", "none", "to save", "full", "winter", "Chargehand", "")
    show("Captured in " + ("a year" if length == "year" else "a fortnight of each season"), head, rows)


if __name__ == "__main__":
    main()
