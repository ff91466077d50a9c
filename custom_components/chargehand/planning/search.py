"""The windows of least expected cost.

First a coarse grid (cheap runs and their parts, stop levels, sets and pairs of windows) under groups of the scenarios. From its best set, and
from its best pair, up to two windows at a time are taken out and the best of all windows put in, until none is cheaper. Small changes, also of
power, come last.
"""

from collections.abc import Sequence
from itertools import combinations

import numpy as np

from .choices import Span, at_levels, neighbours, same_stop_sets, single_windows
from .one_window import rank
from .task import WINDOW_EARNS_KWH, Task
from .windows import SlotSet

MOST_ROUNDS = 12
MOST_GONE = 2
"""So many windows at once are taken out to be replaced by one."""
NEAR_KWH = 0.5 * WINDOW_EARNS_KWH
"""A start that costs more than the better one by what so much energy costs is left."""
LEAST = 1e-9
"""A cost lower by less is the same."""
_COARSE_STOPS = 8
_MOST_PAIRED = 24
_RECKONED = 24
"""So many of the best under groups of the scenarios are reckoned under all of them."""


def best_windows(task: Task) -> SlotSet:
    """The set of windows; none where none is worth it."""
    none: SlotSet = ()
    choice, over = task.choice, task.over
    if choice.limits.windows == 0:
        return none
    rough = task.rough()
    coarse = [*single_windows(choice, over.buy, _COARSE_STOPS), *same_stop_sets(choice, over.buy, _COARSE_STOPS)]
    coarse = [none, *dict.fromkeys(coarse)]
    ranked = [coarse[at] for at in np.argsort(rough.costs(coarse), kind="stable")]
    paired = _a_span_each([one for one in ranked if len(one) == 1])[:_MOST_PAIRED]
    pairs = [tuple(sorted((*one, *other))) for at, one in enumerate(paired) for other in paired[:at]]
    pairs = [one for one in pairs if choice.holds(one)]
    starts = [ranked[0], *([_best(rough, pairs)[0]] if pairs else [])]
    costs = rough.costs([*dict.fromkeys(starts)])
    starts = [
        start
        for start, cost in zip(dict.fromkeys(starts), costs, strict=True)
        if cost <= costs.min() + NEAR_KWH * task.price
    ]
    answers = _Answers(task, rough)
    slots, best = min((_replaced(answers, start) for start in starts), key=lambda end: end[1])
    moved, cost = _moved(task, slots, best, paired)
    return min(_replaced(answers, moved), (slots, best), key=lambda end: end[1])[0] if cost < best else slots


class _Answers:
    """To windows that stay, the best ones to put in, each reckoned once."""

    def __init__(self, task: Task, rough: Task) -> None:
        """For a task."""
        self.task, self._rough = task, rough
        self._known: dict[SlotSet, tuple[SlotSet, float]] = {}

    def to(self, rest: SlotSet) -> tuple[SlotSet, float]:
        """The best of `rest` alone, and of `rest` and one window more, with its cost."""
        if rest not in self._known:
            full = self.task.choice.takes(rest) >= self.task.choice.limits.windows
            self._known[rest] = _best(self.task, [rest, *([] if full else rank(self._rough, rest).best(_RECKONED))])
        return self._known[rest]


def _replaced(answers: _Answers, slots: SlotSet) -> tuple[SlotSet, float]:
    """From `slots` on: up to two windows taken out, and the best of all spans and levels put in; each set at its best levels first."""
    slots, best = _levelled(answers.task, slots)
    gone = 0
    while gone <= min(MOST_GONE, len(slots)):
        found = [answers.to(rest) for rest in combinations(slots, len(slots) - gone)]
        better, cost = min(found, key=lambda end: end[1])
        if cost < best - LEAST:
            slots, best = _levelled(answers.task, better)
            gone = 0
        else:
            gone += 1
    return slots, best


def _levelled(task: Task, slots: SlotSet) -> tuple[SlotSet, float]:
    """The same windows with other levels, until none is cheaper with another one."""
    best = float(task.costs([slots])[0])
    near = True
    while slots:
        better, cost = _best(task, [slots, *at_levels(task.choice, slots, near=near)])
        lower = cost < best - LEAST
        if not (lower or near):
            break
        slots, best, near = better, cost, lower
    return slots, best


def _moved(task: Task, slots: SlotSet, best: float, put_in: list[SlotSet]) -> tuple[SlotSet, float]:
    """From `slots` on by small changes, also of power."""
    for _ in range(MOST_ROUNDS):
        better, cost = _best(task, [slots, *neighbours(task.choice, slots, put_in)])
        if cost >= best - LEAST:
            break
        slots, best = better, cost
    return slots, best


def _best(task: Task, sets: Sequence[SlotSet]) -> tuple[SlotSet, float]:
    sets = [*dict.fromkeys(sets)]
    costs = task.costs(sets)
    at = int(np.argmin(costs))
    return sets[at], float(costs[at])


def _a_span_each(singles: Sequence[SlotSet]) -> list[SlotSet]:
    """The first of those with the same span."""
    spans: dict[Span, SlotSet] = {}
    for one in singles:
        spans.setdefault((one[0].begin, one[0].end), one)
    return list(spans.values())
