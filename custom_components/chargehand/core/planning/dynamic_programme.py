"""The best windows where load and solar are certain: a dynamic programme over steps, windows left, stop level and energy stored.

Exact but for the grid: energies between its levels are interpolated, and stop levels are those of the grid given. Under several scenarios it
is the optimum of their mean, and a start for the search.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from .candidates import Slot, SlotSet
from .objective import Objective
from .simulate import Dynamics, bill
from .tariff import Floats

PER_CENT = 101
COARSE_STOPS, FINE_STOPS = 13, 46
"""Stop levels that are tried under several scenarios, where the search goes on from here, and under a single one."""
_NONE = -1


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class _Decisions:
    """By step: which stop begins a window (windows left, levels), _NONE for none; whether a window ends (windows left, stops, levels)."""

    begins: list[NDArray[np.int64]]
    ends: list[NDArray[np.bool_]]


def best_for_mean(objective: Objective) -> SlotSet:
    """Return the best windows at full power for the mean of the scenarios."""
    over = objective.over
    certain = len(objective.weights) == 1
    mean = objective.under(over.under((objective.weights @ over.net_load)[np.newaxis, :]), np.ones(1))
    lowest, highest = objective.feasible.stops
    stops = np.unique(np.linspace(lowest, highest, FINE_STOPS if certain else COARSE_STOPS).round().astype(np.int64))
    return _followed(mean, stops, _decisions(mean, stops))


def _decisions(objective: Objective, stops: NDArray[np.int64]) -> _Decisions:
    """Return what to do at the start of each step, with windows left and energy stored."""
    feasible, over, at = objective.feasible, objective.over, Dynamics(objective.over)
    battery, steps, windows = over.battery, over.steps, feasible.limits.windows
    grid = np.linspace(0, battery.capacity_kwh, PER_CENT)
    levels: Floats = battery.energy(1.0) * stops[:, np.newaxis].astype(np.float64)
    charge = at.inside(grid[np.newaxis, :], feasible.power * over.hours, levels)
    charged = _places(grid + charge, battery.capacity_kwh)
    idle = np.tile(objective.after(grid), (windows + 1, 1))
    inside = np.broadcast_to(idle[:windows, np.newaxis, :], (windows, len(stops), PER_CENT))
    per_window = objective.per_window[stops - feasible.stops[0]]
    begins, ends = list[NDArray[np.int64]](), list[NDArray[np.bool_]]()
    for step in reversed(range(steps)):
        net_load, buy, sell = over.net_load[0, step], over.buy[step], over.sell[step]
        must_end = step + 1 == steps or feasible.midnight(step + 1)
        may_end = bool(feasible.edges[step + 1])
        ended = _look_up(idle[:windows], charged)
        if must_end:
            goes_on, end = ended, np.ones(ended.shape, dtype=np.bool_)
        else:
            goes_on = _look_up_each(inside, charged)
            end = (ended <= goes_on) if may_end else np.zeros(ended.shape, dtype=np.bool_)
            if may_end:
                goes_on = np.minimum(ended, goes_on)
        change = at.outside(grid, at.surplus[0, step], at.wanted[0, step])
        follows = bill(at.net(change, net_load), buy, sell) + at.wear(change)
        follows = follows + _look_up(idle, _places(grid + change, battery.capacity_kwh))
        inside = bill(at.net(charge, net_load), buy, sell) + objective.per_step[step] + goes_on
        chosen = np.full(follows.shape, _NONE)
        if feasible.edges[step]:
            started = inside + per_window[:, np.newaxis]
            best = started.argmin(axis=1)
            least = np.take_along_axis(started, best[:, np.newaxis], axis=1)[:, 0]
            better = least < follows[1:]
            chosen[1:][better] = best[better]
            follows[1:][better] = least[better]
        idle = follows
        begins.append(chosen)
        ends.append(end)
    return _Decisions(begins=begins[::-1], ends=ends[::-1])


def _followed(objective: Objective, stops: NDArray[np.int64], decisions: _Decisions) -> SlotSet:
    """Return the windows that these decisions make from what is stored."""
    feasible, over, at = objective.feasible, objective.over, Dynamics(objective.over)
    battery, stored = over.battery, np.full(1, objective.stored)
    left, window = feasible.limits.windows, None
    found: list[Slot] = []
    stop = 0
    for step in range(over.steps):
        level = min(round(float(stored[0]) / battery.capacity_kwh * (PER_CENT - 1)), PER_CENT - 1)
        if window is None and (stop := int(decisions.begins[step][left, level])) != _NONE:
            left -= 1
            window = Slot(begin=step, end=step + 1, stop=int(stops[stop]), power=feasible.power)
        if window is None:
            stored = stored + at.outside(stored, at.surplus[0, step], at.wanted[0, step])
            continue
        window = replace(window, end=step + 1)
        ends = decisions.ends[step][left, stop, level]
        stored = stored + at.inside(stored, window.power * over.hours, battery.energy(window.stop))
        if ends:
            found.append(window)
            window = None
    return tuple(found)


type _Places = tuple[NDArray[np.int64], Floats]


def _places(energy: Floats, capacity: float) -> _Places:
    """Return the level below each energy, and the share above it."""
    place = energy * ((PER_CENT - 1) / capacity)
    below = np.minimum(place.astype(np.int64), PER_CENT - 2)
    return below, place - below


def _look_up(value: Floats, places: _Places) -> Floats:
    """Return functions (functions, levels) at places, for each of them all."""
    below, share = places
    low = value[:, below]
    found: Floats = low + share * (value[:, below + 1] - low)
    return found


def _look_up_each(value: Floats, places: _Places) -> Floats:
    """Return functions (windows left, stops, levels) at the places (stops, levels) of their stop."""
    below, share = places
    stop = np.arange(below.shape[0])[:, np.newaxis]
    low = value[:, stop, below]
    found: Floats = low + share * (value[:, stop, below + 1] - low)
    return found
