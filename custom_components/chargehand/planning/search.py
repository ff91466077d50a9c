"""The windows of least expected cost.

First a coarse grid (cheap runs and their parts, stop levels, sets and pairs of windows) under groups of the scenarios. The best single set and
the best pair of it are improved by small changes under all scenarios. From the better one on, one or two windows are taken out and the best of
all windows put in, until none is cheaper.
"""

from collections.abc import Sequence
from itertools import combinations

import numpy as np

from .choices import Span, at_all_levels, neighbours, same_stop_sets, single_windows
from .one_window import rank
from .task import Task
from .windows import SlotSet

MOST_ROUNDS = 12
MOST_GONE = 2
"""So many windows at once are taken out to be replaced by one."""
_COARSE_STOPS = 8
_MOST_PAIRED = 24
_RECKONED = 64
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
    starts = [ranked[0], *([pairs[int(np.argmin(rough.costs(pairs)))]] if pairs else [])]
    ends = [_improved(task, start, paired) for start in dict.fromkeys(starts)]
    answers = _Answers(task, rough)
    ends = [_polished(task, answers, *end) for end in dict.fromkeys(ends)]
    return min(ends, key=lambda end: end[1])[0]


class _Answers:
    """To windows that stay, the best ones to put in, each reckoned once."""

    def __init__(self, task: Task, rough: Task) -> None:
        """For a task."""
        self._task, self._rough = task, rough
        self._known: dict[SlotSet, list[SlotSet]] = {}

    def to(self, rest: SlotSet) -> list[SlotSet]:
        """The sets of `rest` and one window more that may be the best."""
        if rest not in self._known:
            full = self._task.choice.takes(rest) >= self._task.choice.limits.windows
            self._known[rest] = [] if full else rank(self._rough, rest).best(_RECKONED)
        return self._known[rest]


def _a_span_each(singles: Sequence[SlotSet]) -> list[SlotSet]:
    """The first of those with the same span."""
    spans: dict[Span, SlotSet] = {}
    for one in singles:
        spans.setdefault((one[0].begin, one[0].end), one)
    return list(spans.values())


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


def _polished(task: Task, answers: _Answers, slots: SlotSet, best: float) -> tuple[SlotSet, float]:
    """From `slots` on: up to two windows taken out, and the best of all spans and levels put in; or other levels alone."""
    for _ in range(MOST_ROUNDS):
        fewest = max(len(slots) - MOST_GONE, 0)
        rests = [rest for left in range(fewest, len(slots) + 1) for rest in combinations(slots, left)]
        put_in = [one for rest in rests for one in answers.to(rest)]
        around = [*dict.fromkeys([*rests, *put_in, *at_all_levels(task.choice, slots)])]
        costs = task.costs(around)
        at = int(np.argmin(costs))
        if costs[at] >= best - 1e-9:
            break
        slots, best = around[at], float(costs[at])
    return slots, best
