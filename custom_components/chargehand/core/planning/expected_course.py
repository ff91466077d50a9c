"""How a plan is expected to go: its windows first, then those that would be chosen by then."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from .candidates import SlotSet, candidates
from .simulate import Stage, bill, simulate
from .tariff import Floats
from .value_function import Transition, ValueFunction


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class ExpectedCourse:
    """Expected by step: `levels` kWh stored at its end, `imports` and `charge` kWh at the meter, and its `bill`.

    In all: `wear`, and what is `left` at the end is worth, above the reserve.
    """

    levels: Floats
    imports: Floats
    charge: Floats
    bill: Floats
    wear: float
    left: float

    @property
    def paid(self) -> float:
        """What the bill says."""
        return float(self.bill.sum())


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Ahead:
    """The whole horizon under scenarios: the coming day's `steps`, and the `rest` after it (none where the horizon ends with the day)."""

    over: Stage
    weights: Floats
    steps: int
    rest: Transition | None
    terminal: ValueFunction
    after_day: ValueFunction = field(init=False)
    """What is to come after the coming day."""
    best: NDArray[np.int64] | None = field(init=False)
    """(levels) Which windows of the rest are best from each level of its grid."""

    def __post_init__(self) -> None:
        """Choose the windows of the rest once: every course goes on with some of them."""
        expected = None if self.rest is None else self.rest.expected(self.terminal)
        best, after = None, self.terminal
        if self.rest is not None and expected is not None:
            best = expected.argmin(axis=0)
            after = ValueFunction(stored=self.rest.grid, cost=expected.min(axis=0))
        object.__setattr__(self, "best", best)
        object.__setattr__(self, "after_day", after)

    @property
    def day(self) -> Stage:
        """The coming day."""
        return self.over.part(0, self.steps)


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class PlayedDay:
    """The coming day in each scenario: `levels` kWh stored at the end of each step and `net` kWh at the meter, (steps, scenarios), and its `wear`."""

    levels: Floats
    net: Floats
    wear: Floats


def expected_course(ahead: Ahead, slots: SlotSet, stored: float) -> ExpectedCourse:
    """Return what is expected with these windows on the coming day."""
    day = ahead.day
    first = simulate(day, candidates([slots], day.battery), np.full((1, 1), stored), trace=True)
    return course_after(
        ahead, PlayedDay(levels=_traced(first.levels)[:, 0], net=_traced(first.net)[:, 0], wear=first.wear[0])
    )


def course_after(ahead: Ahead, day: PlayedDay) -> ExpectedCourse:
    """Return what is expected where the coming day goes like this, and later nights are planned by then."""
    battery = ahead.over.battery
    levels, nets = [day.levels], [day.net]
    wear, last = day.wear, day.levels[-1]
    if ahead.rest is not None and ahead.best is not None:
        nearest = np.abs(last[:, np.newaxis] - ahead.rest.grid).argmin(axis=1)
        chosen, places = np.unique(ahead.best[nearest], return_inverse=True)
        sets = candidates([ahead.rest.sets.sets[at] for at in chosen], battery)
        rest = ahead.over.part(ahead.steps, ahead.over.steps)
        later = simulate(rest, sets, last[np.newaxis, :], trace=True)
        scenario = np.arange(len(last))
        levels.append(_traced(later.levels)[:, places, scenario])
        nets.append(_traced(later.net)[:, places, scenario])
        wear, last = wear + later.wear[places, scenario], later.stored[places, scenario]
    empty = np.array(battery.energy(battery.reserve_level))
    net = np.concatenate(nets)
    imports = np.maximum(net, 0)
    charge = np.maximum(imports - np.maximum(ahead.over.net_load.T, 0), 0)
    weights = ahead.weights
    return ExpectedCourse(
        levels=np.concatenate(levels) @ weights,
        imports=imports @ weights,
        charge=charge @ weights,
        bill=bill(net, ahead.over.buy[:, np.newaxis], ahead.over.sell[:, np.newaxis]) @ weights,
        wear=float(wear @ weights),
        left=float((ahead.terminal.at(empty) - ahead.terminal.at(last)) @ weights),
    )


def _traced(values: Floats | None) -> Floats:
    """Return what a traced simulation keeps by step."""
    if values is None:
        raise ValueError("not traced")
    return values
