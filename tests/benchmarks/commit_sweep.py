"""Commits under faults in simulated time: kinds of inverter made by hand and as chance has them, judged by an oracle of its own.

    python -m tests.benchmarks.commit_sweep [--cases 100000] [--processes 2] [--seed 1]

Prints the cases of each kind, and what was untrue; its last line is `N cases, 0 wrong, S s`.
"""

import argparse
import sys
import time
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor

from hypothesis import HealthCheck, Phase, given, seed, settings

from tests.simulation.drawn import kinds
from tests.simulation.kinds import HAND_MADE, Kind
from tests.simulation.sweep import Swept, sweep

OF_A_DRAWN_KIND = 120
"""Cases of one kind that is drawn."""

SHARE_DRAWN = 0.5
"""Share of all cases that is of drawn kinds."""

BUNDLE = 8
"""Drawn kinds that a process takes at a time."""

type Told = tuple[str, Swept]


def main() -> int:
    """Sweep, and return how many were wrong, 99 at most."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--cases", type=int, default=100_000)
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--seed", type=int, default=1)
    given_ = parser.parse_args()
    began = time.monotonic()
    by_kind: dict[str, Counter[str]] = {}
    wrong: list[str] = []
    with ProcessPoolExecutor(given_.processes) as pool:
        for results in pool.map(_work, _jobs(given_.cases, given_.seed)):
            for name, swept in results:
                by_kind.setdefault(name, Counter()).update(swept.ends)
                wrong += swept.untrue
    for name, ends in by_kind.items():
        told_ends = ", ".join(f"{end} {count}" for end, count in sorted(ends.items()))
        print(f"{ends.total():7} {name}: {told_ends}")
    for one in wrong:
        print(f"WRONG {one}")
    cases = sum(ends.total() for ends in by_kind.values()) + len(wrong)
    print(f"{cases} cases, {len(wrong)} wrong, {time.monotonic() - began:.0f} s")
    return min(len(wrong), 99)


type Job = tuple[int | None, int, int]
"""A kind made by hand by its number, or None for drawn ones; a seed; how many cases."""


def _jobs(cases: int, start: int) -> Iterator[Job]:
    each = int(cases * (1 - SHARE_DRAWN) / len(HAND_MADE))
    # Different seeds draw different schedules: a thousand cases are of one set of changes.
    for number in range(len(HAND_MADE)):
        for first in range(0, each, 1000):
            yield number, start + first, min(1000, each - first)
    bundles = int(cases * SHARE_DRAWN / (OF_A_DRAWN_KIND * BUNDLE)) + 1
    yield from ((None, start + number, OF_A_DRAWN_KIND) for number in range(bundles))


def _work(job: Job) -> list[Told]:
    number, start, cases = job
    if number is not None:
        kind = HAND_MADE[number]
        return [(kind.name, sweep(kind, start, most=cases))]
    found: list[Told] = []

    @seed(start)
    @settings(
        max_examples=BUNDLE,
        deadline=None,
        database=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(kinds())
    def sweep_drawn(kind: Kind) -> None:
        found.append((_sort(kind), sweep(kind, start, most=cases)))

    sweep_drawn()
    return found


def _sort(kind: Kind) -> str:
    """What drawn kinds are counted by: how windows are kept from acting, and how they are written."""
    bits = (
        "no bits"
        if kind.slots[0].active is None
        else "bits in one word"
        if kind.slots[0].active[0] < 32
        else "own bits"
    )
    arming = "nothing arms" if kind.arming is None else "a switch arms" if kind.arming.is_switch else "a mode arms"
    return f"drawn: {bits}, {arming}, function {kind.function}, {kind.framing}"


if __name__ == "__main__":
    sys.exit(main())
