"""The value function: the least expected cost from a moment on, for every level the battery may have then."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from .candidates import Candidates, Slot, SlotSet, candidates
from .feasible import Feasible, Span, runs
from .simulate import Stage, simulate
from .tariff import Floats

LEVELS, FEWEST_LEVELS = 181, 31
"""Levels that it is calculated at: with one group of scenarios its bends are sharp and want the most, with more groups they are many."""
DAYS_AHEAD = 8
"""So many days of the same kind are looked ahead beyond the horizon; the battery forgets in two or three."""
MOST_GROUPS = 10
_STOPS = 6
_MOST_THRESHOLDS = 4
_LONGEST = 2


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class ValueFunction:
    """`cost` (levels) of what is to come, by `stored` kWh (levels); only its differences mean anything."""

    stored: Floats
    cost: Floats

    def at(self, stored: Floats) -> Floats:
        """Return the cost of what is to come, by kWh stored; linear between the levels."""
        return np.interp(stored, self.stored, self.cost)


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Transition:
    """What the candidate windows of a stage lead to from every level: `cost` and `stored` at its end, (sets, scenarios, levels)."""

    sets: Candidates
    weights: Floats
    grid: Floats
    cost: Floats
    stored: Floats

    def expected(self, later: ValueFunction) -> Floats:
        """Return (sets, levels): expected cost of each set from each level, with what is to come."""
        whole = self.cost + later.at(self.stored)
        expected: Floats = (whole * self.weights[np.newaxis, :, np.newaxis]).sum(axis=1)
        return expected

    def before(self, later: ValueFunction) -> ValueFunction:
        """Return the value function at the stage's start: its windows are chosen there, before the scenario is known."""
        return ValueFunction(stored=self.grid, cost=self.expected(later).min(axis=0))

    def repeated(self) -> ValueFunction:
        """Return the value function at the start of a day that comes again and again, its windows chosen anew each time."""
        value = ValueFunction(stored=self.grid, cost=np.zeros(len(self.grid)))
        for _ in range(DAYS_AHEAD):
            value = self.before(value)
            value = replace(value, cost=value.cost - value.cost[-1])
        return value


def transition(feasible: Feasible, over: Stage, weights: Floats) -> Transition:
    """Simulate the candidate windows of a stage from every level, under a few groups of the scenarios."""
    battery = feasible.battery
    some, shares = grouped(over, weights)
    levels = max(LEVELS // len(shares), FEWEST_LEVELS)
    reserve = battery.energy(battery.reserve_level)
    grid = np.unique(np.concatenate(([0.0], np.linspace(reserve, battery.capacity_kwh, levels))))
    sets = candidates(_coarse_sets(feasible, over.buy), battery)
    simulated = simulate(some, sets, grid[np.newaxis, np.newaxis, :])
    return Transition(sets=sets, weights=shares, grid=grid, cost=simulated.cost, stored=simulated.stored)


def grouped(over: Stage, weights: Floats, most: int = MOST_GROUPS) -> tuple[Stage, Floats]:
    """Return the scenarios in at most `most` groups of like sums and weights, each its mean, and the weights of the groups."""
    if len(weights) <= most:
        return over, weights
    order = np.argsort(over.net_load.sum(axis=1), kind="stable")
    middles = np.cumsum(weights[order]) - weights[order] / 2
    groups = np.minimum((middles * most).astype(np.int64), most - 1)
    means, shares = [], []
    for group in np.unique(groups):
        members = order[groups == group]
        share = weights[members].sum()
        if share > 0:
            means.append(weights[members] @ over.net_load[members] / share)
            shares.append(share)
    return over.under(np.array(means)), np.array(shares)


def _coarse_sets(feasible: Feasible, buy: Floats) -> list[SlotSet]:
    """Return no window, and for some prices the longest runs of steps that cost no more, alone and together, at some stop levels."""
    lowest, highest = feasible.stops
    stops = dict.fromkeys(round(level) for level in np.linspace(lowest, highest, _STOPS))
    sets = [
        tuple(Slot(begin=begin, end=end, stop=stop, power=feasible.power) for begin, end in spans)
        for spans in dict.fromkeys(_cheap_spans(buy, feasible.limits.windows))
        for stop in stops
    ]
    return [(), *(one for one in sets if feasible.holds(one))]


def _cheap_spans(buy: Floats, most: int) -> Iterator[tuple[Span, ...]]:
    # Never up to the most expensive step: all steps are no choice.
    prices = np.unique(buy)[:-1]
    if len(prices) > _MOST_THRESHOLDS:
        prices = np.unique(np.quantile(buy, np.linspace(0.06, 0.7, _MOST_THRESHOLDS), method="lower"))
    for price in prices:
        longest = sorted(runs(buy <= price), key=lambda run: run[0] - run[1])
        for run in longest[:_LONGEST]:
            yield (run,)
        for count in range(2, min(most, len(longest)) + 1):
            yield tuple(sorted(longest[:count]))
