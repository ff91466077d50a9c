"""The best window to add to others: every span and every stop level tried at once.

For a step e and a scenario, what is to come from there on is a function of the energy stored. With the other windows fixed it is reckoned
once, backwards, at every per cent; a window then costs what was paid until it begins, what it takes, and that function at its end.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .choices import Choice
from .play import Steps
from .tariff import Floats
from .task import Task
from .windows import Slot, SlotSet

PER_CENT = 101
"""Levels from 0 to 100 %: each stop level is one, so what a window leaves that reaches its own is not interpolated."""

BESIDE_OTHERS = 3
"""Beside other windows every so many per cent are tried: which of those between is best, all levels of a set tell."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Ranked:
    """Windows to go with `rest`: `cost` (begins, ends, stops), stops in %; infinite where there can be none."""

    choice: Choice
    rest: SlotSet
    stops: NDArray[np.int64]
    cost: Floats

    def best(self, count: int) -> list[SlotSet]:
        """So many sets of `rest` and a window more, cheapest first."""
        flat = self.cost.ravel()
        count = min(count, len(flat))
        near = np.argpartition(flat, count - 1)[:count]
        near = near[np.argsort(flat[near], kind="stable")]
        sets = []
        for at in near[np.isfinite(flat[near])]:
            begin, end, stop = (int(one) for one in np.unravel_index(at, self.cost.shape))
            slot = Slot(begin=begin, end=end, stop=int(self.stops[stop]), power=self.choice.power)
            sets.append(tuple(sorted((*self.rest, slot))))
        return sets


def rank(task: Task, rest: SlotSet) -> Ranked:
    """Cost of `rest` and each window that may join it at the highest power."""
    choice, over = task.choice, task.over
    battery, steps, scenarios = choice.battery, over.steps, len(task.weights)
    at = Steps(over)
    lowest, highest = choice.stops
    every = BESIDE_OTHERS if rest else 1
    stops = np.arange(highest, lowest - 1, -every)[::-1]
    cost = np.full((steps, steps + 1, len(stops)), np.inf)
    allowed = _allowed(choice, rest)
    to_come = _to_come(at, rest, task)
    inside, spent = (np.empty((steps, len(stops), scenarios)) for _ in range(2))
    energy, paid = np.full((1, scenarios), task.stored), np.zeros((1, scenarios))
    most = np.array(choice.power * over.hours)
    levels = battery.energy(1.0) * np.broadcast_to(stops, (steps, len(stops))).reshape(-1, 1)
    first = 0
    for step in range(steps):
        if any(slot.begin <= step < slot.end for slot in rest):
            # No window that began before goes on beyond this.
            first = step + 1
        else:
            inside[step], spent[step] = energy, paid
            began = slice(first, step + 1)
            flat = inside[began].reshape(-1, scenarios)
            room = at.room(flat)
            change = at.inside(flat, room, most, levels[: len(flat)])
            flat += change
            taken = at.charged(step, change)
            if at.sells(step):
                taken += at.kept_out(step, room, change)
            spent[began] += taken.reshape(spent[began].shape)
            whole = _look_up(to_come[step + 1], inside[began], battery.capacity_kwh)
            whole += spent[began]
            cost[began, step + 1] = np.where(allowed[began, step + 1, np.newaxis], whole @ task.weights, np.inf)
        change, cost_of = _by(at, rest, step, energy)
        energy, paid = energy + change, paid + cost_of
    cost += task.earn[:, :, stops - lowest]
    return Ranked(choice=choice, rest=rest, stops=stops, cost=cost)


def _allowed(choice: Choice, rest: SlotSet) -> NDArray[np.bool_]:
    """(begins, ends): whether a window may be there beside `rest`."""
    steps = choice.steps
    edges = np.array(choice.edges)
    begins, ends = np.arange(steps)[:, np.newaxis], np.arange(steps + 1)[np.newaxis, :]
    allowed: NDArray[np.bool_] = edges[:-1, np.newaxis] & edges[np.newaxis, :] & (begins < ends)
    for slot in rest:
        allowed &= (ends <= slot.begin) | (begins >= slot.end)
    left = choice.limits.windows - choice.takes(rest)
    if left < 1:
        return np.zeros_like(allowed)
    if choice.limits.splits_at_midnight and left < 2:
        days = np.array([choice.horizon.at(choice.first + step).toordinal() for step in range(steps)])
        day_of_last_step = np.concatenate((days[:1], days))
        allowed &= days[:, np.newaxis] == day_of_last_step
    return allowed


def _by(at: Steps, rest: SlotSet, step: int, energy: Floats) -> tuple[Floats, Floats]:
    """What a step does to energies under `rest`, and costs."""
    room = at.room(energy)
    for slot in rest:
        if slot.begin <= step < slot.end:
            most, stop = slot.power * at.over.hours, at.over.battery.energy(slot.stop)
            change = at.inside(energy, room, np.array(most), np.array(stop))
            cost = at.paid(step, change)[0]
            return change, cost + at.kept_out(step, room, change) if at.sells(step) else cost
    change = at.outside(step, energy, room)
    return change, at.paid(step, change)[0]


def _to_come(at: Steps, rest: SlotSet, task: Task) -> list[Floats]:
    """(steps + 1) of (scenarios, levels): what is paid from a step on, by level at it."""
    battery, scenarios = at.over.battery, len(at.over.lack)
    levels = np.broadcast_to(np.linspace(0, battery.capacity_kwh, PER_CENT), (1, scenarios, PER_CENT))
    found = [np.broadcast_to(task.after(levels[0, 0]), (scenarios, PER_CENT))]
    for step in reversed(range(at.over.steps)):
        change, cost = _by(at, rest, step, levels)
        after = np.swapaxes(levels + change, 1, 2)
        found.append((cost[0].T + _look_up(found[-1], after, battery.capacity_kwh)[0]).T)
    return found[::-1]


def _look_up(by_level: Floats, energy: Floats, capacity: float) -> Floats:
    """(..., scenarios): a function (scenarios, levels) of the energy, linear between the levels."""
    place = energy * ((PER_CENT - 1) / capacity)
    low = np.minimum(place.astype(np.int64), PER_CENT - 2)
    place -= low
    low += np.arange(len(by_level)) * PER_CENT
    values = by_level.ravel()
    below = values.take(low)
    low += 1
    found: Floats = values.take(low)
    found -= below
    found *= place
    found += below
    return found
