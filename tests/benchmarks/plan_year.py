"""What a year of planned nights costs a house of one's own, beside simple rules and perfect foresight. Prints; nothing is asserted."""

import argparse
import time
from collections.abc import Sequence
from pathlib import Path

from tests.benchmarks.houses.course import FORECAST_ERROR
from tests.benchmarks.houses.files import BadFile, read_course, read_house
from tests.benchmarks.houses.year import Paid, paid
from tests.benchmarks.table import show

REFERENCE = Path(__file__).parent / "houses" / "reference.yaml"
YEAR = 365


def main(words: Sequence[str] | None = None) -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--house", type=Path, default=REFERENCE, help="YAML of battery and tariff, as reference.yaml")
    parser.add_argument("--load", type=Path, help="CSV of half-hourly kWh in the last column, from 1 January 00:00")
    parser.add_argument("--solar", type=Path, help="CSV of half-hourly kWh in the last column, from 1 January 00:00")
    parser.add_argument(
        "--forecast-error",
        type=_share,
        default=FORECAST_ERROR,
        help="of a day's solar energy, 0.3 for 30 %% of the season's mean day",
    )
    parser.add_argument("--seed", type=_whole, default=1)
    parser.add_argument("--days", type=_days, default=YEAR)
    options = parser.parse_args(words)
    begun = time.perf_counter()
    try:
        house = read_house(options.house)
        over = read_course(house, options.seed, options.days, options.forecast_error, options.load, options.solar)
    except BadFile as error:
        parser.error(str(error))
    _print(
        "A year" if options.days == YEAR else f"{options.days} days from 1 January",
        paid(house, over, range(options.days)),
    )
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


def _print(title: str, ways: Paid) -> None:
    rows = (
        ("no night charge", ways.none),
        ("full every night", ways.full),
        ("full October to March", ways.winter),
        ("Chargehand", ways.chargehand),
        ("Chargehand, with load and solar known", ways.knowing),
        ("perfect foresight", ways.best),
    )
    show(
        title,
        ("way", "cost", "captured"),
        [(way, f"{spent:.2f}", f"{ways.captured(spent):.3f}") for way, spent in rows],
    )


if __name__ == "__main__":
    main()
