"""The windows of least expected cost: a variable neighbourhood descent.

1. Start at the optimum for the mean of the scenarios (`dynamic_programme.py`).
2. Go to the cheapest neighbour in the first neighbourhood that has a cheaper one, and begin again with the first; end when none has.
   The neighbourhoods: another stop level near by for one window; the best window more; one window for the best one (`insertion.py`), and
   under few scenarios two at once.
3. Take a lower power for a window where that is cheaper.

Source of the method: Mladenović and Hansen, Variable neighborhood search, 1997 (from memory).
"""

from collections.abc import Callable, Iterable
from dataclasses import replace
from functools import partial
from itertools import combinations

from .candidates import SlotSet, alike
from .dynamic_programme import best_for_mean
from .insertion import Inserter
from .objective import Objective

GROUPS = 12
"""So many groups of the scenarios rank the windows that may be put in."""
RANKED = 16
"""So many of the best under groups are calculated under all scenarios."""
BESIDE_OTHERS = 3
"""Beside other windows every so many per cent are tried as stop level; those between come with the windows' levels."""
POWER_SHARES = (0.75, 0.5, 0.25)
LEAST = 1e-9
"""A cost lower by less is the same."""
_NEAR_STOPS = (1, 2, 3, 5, 8, 13)


def best_windows(objective: Objective) -> SlotSet:
    """Return the set of windows; none where none is worth it."""
    if objective.feasible.limits.windows == 0:
        return ()
    search = _Search(objective)
    return search.slowed(search.descent(best_for_mean(objective)))


class _Search:
    """The neighbourhoods of a set of windows, and the costs that are known."""

    def __init__(self, objective: Objective) -> None:
        """Know of no cost yet."""
        self.objective = objective
        most_gone = 2 if len(objective.weights) <= GROUPS else 1
        self._neighbourhoods: list[Callable[[SlotSet], list[SlotSet]]] = [
            self._near_levels,
            *(partial(self._exchanges, gone) for gone in range(most_gone + 1)),
        ]
        self._groups = Inserter(objective.under_groups(GROUPS))
        self._costs: dict[SlotSet, float] = {}
        self._beside: dict[SlotSet, SlotSet] = {}

    def descent(self, slots: SlotSet) -> SlotSet:
        """Return the set that `slots` leads to, and that no neighbour is cheaper than."""
        slots, at = self._cheapest([slots])[0], 0
        while at < len(self._neighbourhoods):
            better, cost = self._cheapest([slots, *self._neighbourhoods[at](slots)])
            if cost < self._costs[slots] - LEAST:
                slots, at = better, 0
            else:
                at += 1
        return slots

    def slowed(self, slots: SlotSet) -> SlotSet:
        """Return the set with lower powers where those are cheaper."""
        power = self.objective.feasible.power
        slower = [
            (*slots[:at], replace(slot, power=round(power * share, 3)), *slots[at + 1 :])
            for at, slot in enumerate(slots)
            for share in POWER_SHARES
        ]
        return self._cheapest([slots, *slower])[0]

    def _with_best(self, rest: SlotSet) -> SlotSet:
        """Return `rest`, or it and the best window more where that is cheaper."""
        if rest not in self._beside:
            full = self.objective.feasible.takes(rest) >= self.objective.feasible.limits.windows
            more = [] if full else self._groups.beside(rest, BESIDE_OTHERS if rest else 1).best(RANKED)
            self._beside[rest] = self._cheapest([rest, *more])[0]
        return self._beside[rest]

    def _near_levels(self, slots: SlotSet) -> list[SlotSet]:
        """Return the same windows, one of them with a stop level near by."""
        lowest, highest = self.objective.feasible.stops
        return [
            (*slots[:at], replace(slot, stop=stop), *slots[at + 1 :])
            for at, slot in enumerate(slots)
            for move in _NEAR_STOPS
            for stop in (slot.stop - move, slot.stop + move)
            if lowest <= stop <= highest
        ]

    def _exchanges(self, gone: int, slots: SlotSet) -> list[SlotSet]:
        """Return the sets with so many windows less and the best one in their place."""
        kept = len(slots) - gone
        return [] if kept < 0 else [self._with_best(rest) for rest in combinations(slots, kept)]

    def _cheapest(self, sets: Iterable[SlotSet]) -> tuple[SlotSet, float]:
        sets = [*dict.fromkeys(held for one in sets for held in alike(one, self.objective.feasible.limits))]
        unknown = [one for one in sets if one not in self._costs]
        if unknown:
            self._costs.update(zip(unknown, map(float, self.objective.costs(unknown)), strict=True))
        best = min(sets, key=self._costs.__getitem__)
        return best, self._costs[best]
