"""How a plan is expected to go: its windows first, then those that would be chosen by then."""

from dataclasses import dataclass

import numpy as np

from .play import Course, play
from .tariff import Floats
from .windows import SlotSet, candidates
from .worth import Night, Worth


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Expected:
    """Expected by step: `levels` kWh stored at its end, `imports` and `charge` kWh at the meter; `cost` in all."""

    levels: Floats
    imports: Floats
    charge: Floats
    cost: float


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Ahead:
    """The whole horizon under scenarios: the coming day's `steps`, and the `rest` after it (none where the horizon ends with the day)."""

    over: Course
    weights: Floats
    steps: int
    rest: Night | None
    end: Worth


def expected(ahead: Ahead, slots: SlotSet, stored: float) -> Expected:
    """What is expected with these windows on the coming day."""
    day = ahead.over.part(0, ahead.steps)
    played = play(day, candidates([slots], day.battery), np.full((1, 1), stored), trace=True)
    assert played.levels is not None
    assert played.imports is not None
    levels, imports = [played.levels[:, 0]], [played.imports[:, 0]]
    costs, last = played.cost[0], played.stored[0]
    if ahead.rest is not None:
        rest = ahead.over.part(ahead.steps, ahead.over.steps)
        best = ahead.rest.expected(ahead.end).argmin(axis=0)
        nearest = np.abs(last[:, np.newaxis] - ahead.rest.grid).argmin(axis=1)
        chosen, places = np.unique(best[nearest], return_inverse=True)
        sets = candidates([ahead.rest.sets.sets[at] for at in chosen], day.battery)
        later = play(rest, sets, last[np.newaxis, :], trace=True)
        assert later.levels is not None
        assert later.imports is not None
        scenario = np.arange(len(last))
        levels.append(later.levels[:, places, scenario])
        imports.append(later.imports[:, places, scenario])
        costs = costs + later.cost[places, scenario]
        last = later.stored[places, scenario]
    empty = np.array(day.battery.energy(day.battery.reserve_level))
    costs = costs + ahead.end.at(last) - ahead.end.at(empty)
    bought = np.concatenate(imports)
    charge = np.maximum(bought - np.maximum(ahead.over.lack.T, 0), 0)
    return Expected(
        levels=np.concatenate(levels) @ ahead.weights,
        imports=bought @ ahead.weights,
        charge=charge @ ahead.weights,
        cost=float(costs @ ahead.weights),
    )
