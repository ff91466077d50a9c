"""What stored energy is worth later: the least expected cost from a moment on, for every level the battery may have then."""

from dataclasses import dataclass

import numpy as np

from .choices import Choice, same_stop_sets, single_windows
from .play import Course, play
from .tariff import Floats
from .windows import Candidates, SlotSet, candidates

LEVELS, FEWEST_LEVELS = 181, 31
"""Levels that worth is reckoned at: with one group of scenarios its bends are sharp and want the most, with more groups they are many."""
NIGHTS = 8
"""So many days of the same kind are looked ahead beyond the horizon; the battery forgets in two or three."""
MOST_GROUPS = 10
_STOPS = 6


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Worth:
    """`cost` (levels) of what is to come, by `stored` kWh (levels); only its differences mean anything."""

    stored: Floats
    cost: Floats

    def at(self, stored: Floats) -> Floats:
        """Cost of what is to come, by kWh stored; linear between the levels."""
        return np.interp(stored, self.stored, self.cost)


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Night:
    """What the windows of a part of the horizon lead to: `cost` and `stored` at its end, (sets, scenarios, levels)."""

    sets: Candidates
    weights: Floats
    grid: Floats
    cost: Floats
    stored: Floats

    def expected(self, later: Worth) -> Floats:
        """(sets, levels): expected cost of each set from each level, with what is to come."""
        expected: Floats = np.einsum("s,csl->cl", self.weights, self.cost + later.at(self.stored))
        return expected


def night(choice: Choice, over: Course, weights: Floats) -> Night:
    """Play the windows to choose from, from every level, under a few groups of the scenarios."""
    battery = choice.battery
    reserve = battery.energy(battery.reserve_level)
    some, shares = grouped(over, weights)
    levels = max(LEVELS // len(shares), FEWEST_LEVELS)
    grid = np.unique(np.concatenate(([0.0], np.linspace(reserve, battery.capacity_kwh, levels))))
    none: SlotSet = ()
    singles = single_windows(choice, over.buy, _STOPS, whole=True)
    sets = candidates([none, *singles, *same_stop_sets(choice, over.buy, _STOPS)], battery)
    played = play(some, sets, grid[np.newaxis, np.newaxis, :])
    return Night(sets=sets, weights=shares, grid=grid, cost=played.cost, stored=played.stored)


def before(part: Night, later: Worth) -> Worth:
    """Worth at the start of a part whose windows are chosen at its start, not knowing its scenario."""
    return Worth(stored=part.grid, cost=part.expected(later).min(axis=0))


def for_ever(part: Night) -> Worth:
    """Worth at the start of a day that comes again and again, chosen anew each time."""
    worth = Worth(stored=part.grid, cost=np.zeros(len(part.grid)))
    for _ in range(NIGHTS):
        worth = before(part, worth)
        worth = Worth(stored=worth.stored, cost=worth.cost - worth.cost[-1])
    return worth


def grouped(over: Course, weights: Floats) -> tuple[Course, Floats]:
    """The scenarios in at most MOST_GROUPS groups of like sums and weights, each its mean, and the weights of the groups."""
    if len(weights) <= MOST_GROUPS:
        return over, weights
    order = np.argsort(over.lack.sum(axis=1), kind="stable")
    middles = np.cumsum(weights[order]) - weights[order] / 2
    groups = np.minimum((middles * MOST_GROUPS).astype(np.int64), MOST_GROUPS - 1)
    lacks, shares = [], []
    for group in np.unique(groups):
        members = order[groups == group]
        share = weights[members].sum()
        if share > 0:
            lacks.append(weights[members] @ over.lack[members] / share)
            shares.append(share)
    return over.some(np.array(lacks)), np.array(shares)
