"""The windows of least expected cost.

The start is the optimum for the mean of the scenarios. From there a window is taken out and the best of all windows put in, until none is
cheaper; under few scenarios two are taken out at once, too. Lower powers come last.
"""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import combinations

from .candidates import SlotSet
from .dynamic_programme import best_for_mean
from .feasible import Feasible
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
    return search.slowed(search.improved(best_for_mean(objective)))


class _Search:
    """Costs that are known, and moves from one set of windows to a better one."""

    def __init__(self, objective: Objective) -> None:
        """For an objective."""
        self.objective = objective
        self._most_gone = 2 if len(objective.weights) <= GROUPS else 1
        self._groups = Inserter(objective.under_groups(GROUPS))
        self._costs: dict[SlotSet, float] = {}
        self._beside: dict[SlotSet, SlotSet] = {}

    def improved(self, slots: SlotSet) -> SlotSet:
        """Return the set from which no exchange of windows leads to a cheaper one."""
        slots = self._levelled(slots)
        gone = 0
        while gone <= min(self._most_gone, len(slots)):
            best = self._cheapest([slots])[1]
            rests = combinations(slots, len(slots) - gone)
            better, cost = self._cheapest([self._with_best(rest) for rest in rests])
            if cost < best - LEAST:
                slots, gone = self._levelled(better), 0
            else:
                gone += 1
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

    def _levelled(self, slots: SlotSet) -> SlotSet:
        """Return the same windows with other stop levels, until none is cheaper with another one."""
        while slots:
            better, cost = self._cheapest([slots, *_near_levels(self.objective.feasible, slots)])
            if cost >= self._costs[slots] - LEAST:
                break
            slots = better
        return slots

    def _cheapest(self, sets: Iterable[SlotSet]) -> tuple[SlotSet, float]:
        sets = [*dict.fromkeys(sets)]
        unknown = [one for one in sets if one not in self._costs]
        if unknown:
            self._costs.update(zip(unknown, map(float, self.objective.costs(unknown)), strict=True))
        best = min(sets, key=self._costs.__getitem__)
        return best, self._costs[best]


def _near_levels(feasible: Feasible, slots: SlotSet) -> Sequence[SlotSet]:
    """Return the same windows, one of them with a stop level near by."""
    lowest, highest = feasible.stops
    return [
        (*slots[:at], replace(slot, stop=stop), *slots[at + 1 :])
        for at, slot in enumerate(slots)
        for move in _NEAR_STOPS
        for stop in (slot.stop - move, slot.stop + move)
        if lowest <= stop <= highest
    ]
