"""The best window to put in beside others: every span and every stop level at once.

With the other windows fixed, what is to come from a step on is a function of the energy stored, by scenario; it is calculated backwards at
every per cent. A window then costs what was paid until it begins, what it takes, and that function at its end. What it takes needs no
simulation of its own: from each begin the battery goes one way at full power, and a stop level cuts that way off.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .candidates import Slot, SlotSet
from .objective import Objective
from .simulate import Dynamics, bill
from .tariff import Floats

PER_CENT = 101
"""Levels from 0 to 100 %: each stop level is one, so what a window leaves that reaches its own is not interpolated."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Insertions:
    """Windows to go with `rest`: `cost` (begins, ends, stops), stops in %; infinite where there can be none."""

    power: float
    rest: SlotSet
    stops: NDArray[np.int64]
    cost: Floats

    def best(self, count: int) -> list[SlotSet]:
        """Return so many sets of `rest` and a window more, cheapest first."""
        flat = self.cost.ravel()
        count = min(count, len(flat))
        near = np.argpartition(flat, count - 1)[:count]
        near = near[np.argsort(flat[near], kind="stable")]
        sets = []
        for at in near[np.isfinite(flat[near])]:
            begin, end, stop = (int(one) for one in np.unravel_index(at, self.cost.shape))
            slot = Slot(begin=begin, end=end, stop=int(self.stops[stop]), power=self.power)
            sets.append(tuple(sorted((*self.rest, slot))))
        return sets


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class _Table:
    """A step from every level: `cost` (scenarios, levels), and where it leads, as a place below and the share above it."""

    cost: Floats
    below: NDArray[np.int64]
    share: Floats


class Inserter:
    """Costs of windows put in beside others, under the scenarios of an objective."""

    def __init__(self, objective: Objective) -> None:
        """Tabulate the steps without windows."""
        self.objective = objective
        over = objective.over
        self._over = over
        self._at = Dynamics(over)
        self._scenarios = len(objective.weights)
        battery = over.battery
        self._per_kwh = (PER_CENT - 1) / battery.capacity_kwh
        self._grid = np.linspace(0, battery.capacity_kwh, PER_CENT)[np.newaxis, :]
        self._row = np.arange(self._scenarios)[:, np.newaxis] * PER_CENT
        self._outside = [self._table(step, self._follow(step, self._grid)) for step in range(over.steps)]
        idle = bill(over.net_load, over.buy, over.sell)
        self._idle = np.concatenate((np.zeros((self._scenarios, 1)), np.cumsum(idle, axis=1)), axis=1).T
        end = np.broadcast_to(objective.after(self._grid[0]), (self._scenarios, PER_CENT))
        self._ahead: dict[SlotSet, list[Floats]] = {(): self._backward([end], over.steps, 0, None)}
        start = np.full(self._scenarios, objective.stored), np.zeros(self._scenarios)
        self._behind: dict[SlotSet, list[tuple[Floats, Floats]]] = {(): self._forward([start], 0, over.steps, None)}

    def beside(self, rest: SlotSet, every: int = 1) -> Insertions:
        """Return the cost of `rest` and each window that may join it at the highest power, at every so many per cent."""
        feasible, steps = self.objective.feasible, self._over.steps
        lowest, highest = feasible.stops
        stops = np.arange(highest, lowest - 1, -every)[::-1]
        cost = np.full((steps, steps + 1, len(stops)), np.inf)
        left = feasible.limits.windows - feasible.takes(rest)
        if left > 0:
            ahead, behind = self._value_ahead(rest), self._paid_behind(rest)
            for first, last in self._gaps(rest):
                cost[first:last, first : last + 1] = self._in_gap(first, last, stops, ahead, behind)
            allowed = feasible.edges[:-1, np.newaxis] & feasible.edges[np.newaxis, :]
            if feasible.limits.splits_at_midnight and left < 2:
                of_last = np.concatenate((feasible.days[:1], feasible.days))
                allowed = allowed & (feasible.days[:, np.newaxis] == of_last)
            cost[~allowed] = np.inf
            threshold = self.objective.threshold[:, :, stops - lowest]
            cost += threshold + self.objective.earns(rest)
        return Insertions(power=feasible.power, rest=rest, stops=stops, cost=cost)

    def _gaps(self, rest: SlotSet) -> list[tuple[int, int]]:
        edges = [0, *(edge for slot in rest for edge in (slot.begin, slot.end)), self._over.steps]
        return [(a, b) for a, b in zip(edges[::2], edges[1::2], strict=True) if a < b]

    def _in_gap(
        self, first: int, last: int, stops: NDArray[np.int64], ahead: list[Floats], behind: list[tuple[Floats, Floats]]
    ) -> Floats:
        """Return (begins, ends, stops): the cost of a window in the steps `first` to before `last`; its end counts from `first`."""
        weights, count = self.objective.weights, last - first
        begun = np.array([behind[step][0] for step in range(first, last)])
        paid = np.array([behind[step][1] for step in range(first, last)])
        path, taken = self._full_power(first, last, begun)
        levels: Floats = self._over.battery.energy(1.0) * stops.astype(np.float64)
        reached, partly = self._to_stops(first, path, taken, levels)
        begin, end = np.triu_indices(count + 1, 1)
        value = np.array(ahead[first : last + 1])
        resting = self._look_up(value, end, begun[begin])
        charging = taken[begin, end] + self._look_up(value, end, path[begin, end])
        whole = value[:, :, stops].transpose(0, 2, 1)[end]
        whole += partly[begin]
        np.copyto(whole, charging[:, np.newaxis, :], where=reached[begin] >= end[:, np.newaxis, np.newaxis])
        rests = levels[np.newaxis, :, np.newaxis] <= begun[:, np.newaxis, :]
        np.copyto(whole, resting[:, np.newaxis, :], where=rests[begin])
        before = paid[begin] + self._idle[first + end] - self._idle[first + begin]
        cost = np.full((count, count + 1, len(stops)), np.inf)
        cost[begin, end] = whole @ weights + (before @ weights)[:, np.newaxis]
        return cost

    def _full_power(self, first: int, last: int, begun: Floats) -> tuple[Floats, Floats]:
        """Return (begins, steps after `first`, scenarios): energies on the way at full power from each begin, and what charging has cost."""
        over, at = self._over, self._at
        most = self.objective.feasible.power * over.hours
        path = np.repeat(begun[:, np.newaxis], last - first + 1, axis=1)
        taken = np.zeros_like(path)
        for step in range(first, last):
            rows, place = slice(0, step - first + 1), step - first
            energy = path[rows, place]
            charge = at.inside(energy, most, over.battery.capacity_kwh)
            path[rows, place + 1] = energy + charge
            taken[rows, place + 1] = taken[rows, place] + self._extra(
                over.net_load[:, step], over.buy[step], over.sell[step], charge
            )
        return path, taken

    def _extra(self, net_load: Floats, buy: Floats | float, sell: Floats | float, charge: Floats) -> Floats:
        """Return what charging costs above what a step costs anyway."""
        whole: Floats = net_load + charge / self._over.battery.charge_efficiency
        cost: Floats = buy * (np.maximum(whole, 0) - np.maximum(net_load, 0))
        cost += sell * (np.minimum(whole, 0) - np.minimum(net_load, 0))
        return cost

    def _to_stops(self, first: int, path: Floats, taken: Floats, levels: Floats) -> tuple[NDArray[np.int64], Floats]:
        """Return (begins, stops, scenarios): the step, counted from `first`, in which each stop is reached, and what charging to it costs."""
        count = path.shape[0]
        shape = (count, len(levels), self._scenarios)
        beyond = np.searchsorted(levels, path.ravel(), side="right").reshape(path.shape)
        # The last step at whose start a stop is not yet reached; those beyond the way's end are never reached.
        begins = np.arange(count)
        reached = np.zeros((count, len(levels) + 1, self._scenarios), dtype=np.int64)
        reached[:] = begins[:, np.newaxis, np.newaxis]
        row, scenario = begins[:, np.newaxis], np.arange(self._scenarios)[np.newaxis, :]
        for place in range(count + 1):
            rows = slice(0, min(place + 1, count))
            reached[row[rows], beyond[rows, place], scenario] = place
        reached = np.maximum.accumulate(reached, axis=1)[:, : len(levels)]
        step = np.minimum(reached, count - 1)
        at = np.take_along_axis(path, step, axis=1)
        charge = np.maximum(levels[np.newaxis, :, np.newaxis] - at, 0)
        step += first
        net_load = self._over.net_load[scenario[np.newaxis], step]
        partly = np.take_along_axis(taken, step - first, axis=1)
        partly += self._extra(net_load, self._over.buy[step], self._over.sell[step], charge)
        return reached.reshape(shape), partly

    def _value_ahead(self, slots: SlotSet) -> list[Floats]:
        """Return by step (scenarios, levels): what is to come from it on."""
        if slots not in self._ahead:
            later, slot = self._value_ahead(slots[1:]), slots[0]
            inside = self._backward(later[slot.end :], slot.end, slot.begin, slot)
            self._ahead[slots] = self._backward(inside, slot.begin, 0, None)
        return self._ahead[slots]

    def _paid_behind(self, slots: SlotSet) -> list[tuple[Floats, Floats]]:
        """Return by step (scenarios): energy at it, and what was paid until then."""
        if slots not in self._behind:
            earlier, slot = self._paid_behind(slots[:-1]), slots[-1]
            inside = self._forward(earlier[: slot.begin + 1], slot.begin, slot.end, slot)
            self._behind[slots] = self._forward(inside, slot.end, self._over.steps, None)
        return self._behind[slots]

    def _backward(self, known: list[Floats], last: int, first: int, slot: Slot | None) -> list[Floats]:
        """Return the values from `first` on, from those known from `last` on, with a window in the steps between or none."""
        found = known[::-1]
        for step in range(last - 1, first - 1, -1):
            table = self._outside[step] if slot is None else self._table(step, self._charge(self._grid, slot))
            later = found[-1]
            value = later.take(table.below + 1)
            below = later.take(table.below)
            value -= below
            value *= table.share
            value += below
            value += table.cost
            found.append(value)
        return found[::-1]

    def _forward(
        self, known: list[tuple[Floats, Floats]], first: int, last: int, slot: Slot | None
    ) -> list[tuple[Floats, Floats]]:
        """Return energies and what was paid up to `last`, from those known up to `first`."""
        found = list(known)
        for step in range(first, last):
            energy, paid = found[-1]
            column = energy[:, np.newaxis]
            change = self._follow(step, column) if slot is None else self._charge(column, slot)
            found.append((energy + change[:, 0], paid + self._step_cost(step, change)[:, 0]))
        return found

    def _follow(self, step: int, energy: Floats) -> Floats:
        at = self._at
        return at.outside(energy, at.surplus[:, step, np.newaxis], at.wanted[:, step, np.newaxis])

    def _charge(self, energy: Floats, slot: Slot) -> Floats:
        battery, hours = self._over.battery, self._over.hours
        return self._at.inside(energy, slot.power * hours, battery.energy(slot.stop))

    def _step_cost(self, step: int, change: Floats) -> Floats:
        """Return (scenarios, levels): the cost of a step that stores `change` (scenarios or 1, levels)."""
        over, at = self._over, self._at
        cost = bill(at.net(change, over.net_load[:, step, np.newaxis]), over.buy[step], over.sell[step])
        return cost + at.wear(change) if over.battery.wear else cost

    def _table(self, step: int, change: Floats) -> _Table:
        place = (self._grid + change) * self._per_kwh
        below = np.minimum(place.astype(np.int64), PER_CENT - 2)
        share = place - below
        return _Table(cost=self._step_cost(step, change), below=below + self._row, share=share)

    def _look_up(self, value: Floats, step: NDArray[np.int64], energy: Floats) -> Floats:
        """Return (..., scenarios): functions by step (steps, scenarios, levels) of the energy, linear between the levels."""
        place = energy * self._per_kwh
        below = np.minimum(place.astype(np.int64), PER_CENT - 2)
        place -= below
        below += self._row[:, 0] + (step * (self._scenarios * PER_CENT))[:, np.newaxis]
        low = value.take(below)
        found: Floats = value.take(below + 1)
        found -= low
        found *= place
        found += low
        return found
