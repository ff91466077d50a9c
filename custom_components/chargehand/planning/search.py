"""The windows of least expected cost.

First a coarse grid (cheap runs and their parts, stop levels, sets and pairs of windows) under groups of the scenarios; then, from the best few
under all scenarios, one window at a time is changed, put in or taken out until no such change is cheaper.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from .choices import Choice, neighbours, same_stop_sets, single_windows
from .play import Course, play
from .tariff import Floats
from .windows import SlotSet, candidates
from .worth import Worth, grouped

MOST_ROUNDS = 12
STARTS = 3
WINDOW_EARNS_KWH = 0.03
"""A window must earn what so much energy costs: less is within what the model does not know."""
LEFT_LOSES = 0.01
"""What is left at the end of the coming day is worth so much of a price less: what it does not need is not charged a day early."""
_COARSE_STOPS = 8
_MOST_PAIRED = 24


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Task:
    """Windows to be found for the steps `over` under scenarios of `weights`, from `stored` kWh, with what is to come `later`."""

    choice: Choice
    over: Course
    weights: Floats
    stored: float
    later: Worth

    @property
    def price(self) -> float:
        """The mean price of the steps."""
        return float(np.abs(self.over.buy).mean())

    def costs(self, sets: Sequence[SlotSet]) -> Floats:
        """(sets) Expected cost of each, with what is to come, what its windows must earn, and what is left loses."""
        played = play(self.over, candidates(sets, self.choice.battery), np.full((1, 1), self.stored))
        left = self.later.at(played.stored) + LEFT_LOSES * self.price * played.stored
        expected: Floats = (played.cost + left) @ self.weights
        earn = WINDOW_EARNS_KWH * self.price
        return expected + earn * np.array([len(one) for one in sets], dtype=np.float64)


def best_windows(task: Task) -> SlotSet:
    """The set of windows; none where none is worth it."""
    none: SlotSet = ()
    choice, over = task.choice, task.over
    if choice.limits.windows == 0:
        return none
    some, shares = grouped(over, task.weights)
    rough = replace(task, over=some, weights=shares)
    coarse = [*single_windows(choice, over.buy, _COARSE_STOPS), *same_stop_sets(choice, over.buy, _COARSE_STOPS)]
    coarse = [none, *dict.fromkeys(coarse)]
    ranked = [coarse[at] for at in np.argsort(rough.costs(coarse), kind="stable")]
    paired = [one for one in ranked if len(one) == 1][:_MOST_PAIRED]
    pairs = [tuple(sorted((*one, *other))) for at, one in enumerate(paired) for other in paired[:at]]
    pairs = [one for one in pairs if choice.holds(one)]
    first = dict.fromkeys([none, *ranked[:STARTS]])
    if pairs:
        first |= dict.fromkeys([pairs[int(np.argmin(rough.costs(pairs)))]])
    ends = [_improved(task, start, paired) for start in first]
    return min(ends, key=lambda end: end[1])[0]


def _improved(task: Task, slots: SlotSet, put_in: list[SlotSet]) -> tuple[SlotSet, float]:
    best = float(task.costs([slots])[0])
    for _ in range(MOST_ROUNDS):
        around = neighbours(task.choice, slots, put_in)
        if not around:
            break
        costs = task.costs(around)
        at = int(np.argmin(costs))
        if costs[at] >= best - 1e-9:
            break
        slots, best = around[at], float(costs[at])
    return slots, best
