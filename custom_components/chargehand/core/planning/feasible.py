"""Which windows the inverter can hold in the steps of a stage."""

from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from .battery import Battery
from .candidates import Limits, Slot, SlotSet
from .horizon import Horizon

type Span = tuple[int, int]
"""First step, and the step after the last."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Feasible:
    """What windows may be in steps `first` to before `last` of a horizon. Raises BadLimits."""

    battery: Battery
    limits: Limits
    horizon: Horizon
    first: int
    last: int
    edges: NDArray[np.bool_] = field(init=False)
    """(steps + 1) Whether the inverter can start or end a window at each step, and at the end of the last."""
    days: NDArray[np.int64] = field(init=False)
    """(steps) The local date of each step."""
    stops: tuple[int, int] = field(init=False)
    """Lowest and highest stop level, in whole %."""

    def __post_init__(self) -> None:
        """Look edges, dates and stop levels up."""
        starts = [self.horizon.at(step) for step in range(self.first, self.last + 1)]
        step_minutes = self.limits.step_minutes
        edges = np.array([(start.hour * 60 + start.minute) % step_minutes == 0 for start in starts])
        object.__setattr__(self, "edges", edges)
        object.__setattr__(self, "days", np.array([start.toordinal() for start in starts[:-1]]))
        object.__setattr__(self, "stops", self.limits.stop_levels(self.battery))

    @property
    def steps(self) -> int:
        """How many."""
        return self.last - self.first

    @property
    def power(self) -> float:
        """The highest power of a window, in kW."""
        return self.limits.power(self.battery)

    def holds(self, slots: SlotSet) -> bool:
        """Return whether the inverter can hold these windows."""
        if any(before.end > after.begin for before, after in pairwise(slots)):
            return False
        lowest, highest = self.stops
        for slot in slots:
            if not (0 <= slot.begin < slot.end <= self.steps and lowest <= slot.stop <= highest):
                return False
            if not (self.edges[slot.begin] and self.edges[slot.end]):
                return False
        return self.takes(slots) <= self.limits.windows

    def takes(self, slots: SlotSet) -> int:
        """Return how many of the inverter's windows they are."""
        return len(slots) + sum(self._splits(slot) for slot in slots)

    def _splits(self, slot: Slot) -> bool:
        return self.limits.splits_at_midnight and bool(self.days[slot.begin] != self.days[slot.end - 1])

    def midnight(self, step: int) -> bool:
        """Return whether a window cannot go on over the start of a step, since it takes two of the inverter's there."""
        return self.limits.splits_at_midnight and 0 < step < self.steps and self.days[step] != self.days[step - 1]


def runs(cheap: NDArray[np.bool_]) -> list[Span]:
    """Return the steps that are cheap, as runs of those next to each other."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], cheap, [False])).astype(np.int8)))
    return [(int(begin), int(end)) for begin, end in zip(edges[::2], edges[1::2], strict=True)]
