"""What planned nights capture of what there is to save, in a street of houses over a year. Prints; nothing is asserted.

Captured is (none - way) / (none - foresight), foresight a linear programme over the whole year. The last line is the weighted figure: what is
saved in all houses together, of what can be saved in them.
"""

import argparse
import time
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import partial

from tests.benchmarks.houses.course import course
from tests.benchmarks.houses.house import House
from tests.benchmarks.houses.street import STREET
from tests.benchmarks.houses.year import Paid, paid, weighted
from tests.benchmarks.table import show

YEAR = 365


def main(words: Sequence[str] | None = None) -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seed", type=int, default=1, help="of weather, loads, prices and forecasts")
    parser.add_argument("--days", type=int, default=YEAR, choices=range(1, YEAR + 1), metavar="1..365")
    parser.add_argument("--house", action="append", help="only those whose name has this in it")
    parser.add_argument("--jobs", type=int, default=1, help="processes")
    options = parser.parse_args(words)
    begun = time.perf_counter()
    houses = [one for one in STREET if not options.house or any(part in one.name for part in options.house)]
    one = partial(_paid, range(options.days), options.seed)
    if options.jobs > 1:
        with ProcessPoolExecutor(options.jobs) as pool:
            ways = list(pool.map(one, houses))
    else:
        ways = [one(house) for house in houses]
    show(
        f"Captured in {options.days} days, seed {options.seed}",
        ("house", "none", "to save", "full", "winter", "Chargehand", "knowing", "s"),
        [
            (
                house.name,
                f"{each.none:.2f}",
                f"{each.to_save:.2f}",
                *(f"{each.captured(way):.3f}" for way in (each.full, each.winter, each.chargehand, each.knowing)),
                f"{each.seconds:.0f}",
            )
            for house, each in zip(houses, ways, strict=True)
        ],
    )
    print(f"{time.perf_counter() - begun:.0f} s")
    print(f"weighted: {weighted(ways):.4f}")


def _paid(days: Sequence[int], seed: int, house: House) -> Paid:
    # Each house has weather of its own.
    return paid(house, course(house, 100 * seed + STREET.index(house)), days)


if __name__ == "__main__":
    main()
