"""Windows to be found, and what a set of them is expected to cost."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from .choices import Choice
from .play import Course, play
from .tariff import Floats
from .windows import SlotSet, candidates
from .worth import Worth, grouped

WINDOW_EARNS_KWH = 0.03
"""A window must earn what so much energy costs: less is within what the model does not know."""
LEFT_LOSES = 0.01
"""What is left at the end of the coming day is worth so much of a price less: what it does not need is not charged a day early."""
_LEVEL_KWH, _STEP_KWH = 1e-5, 1e-6
"""They choose among windows of equal cost: the lower level, by 1 %, then the longer time in cheap steps, for what is slower than told."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Task:
    """Windows to be found for the steps `over` under scenarios of `weights`, from `stored` kWh, with what is to come `later`."""

    choice: Choice
    over: Course
    weights: Floats
    stored: float
    later: Worth
    earn: Floats = field(init=False)
    """(begins, ends, stop levels from the lowest on) What a window must earn."""

    def __post_init__(self) -> None:
        """Reckon what a window must earn."""
        lowest, highest = self.choice.stops
        dear = np.concatenate(([0.0], np.cumsum(self.over.buy - self.price)))
        span = dear[np.newaxis, :] - dear[:-1, np.newaxis]
        stop = _LEVEL_KWH * self.price * np.arange(lowest, highest + 1)
        earn = WINDOW_EARNS_KWH * self.price + _STEP_KWH * span[:, :, np.newaxis] + stop
        object.__setattr__(self, "earn", earn)

    @property
    def price(self) -> float:
        """The mean price of the steps."""
        return float(np.abs(self.over.buy).mean())

    def rough(self) -> Task:
        """The same under a few groups of the scenarios."""
        over, weights = grouped(self.over, self.weights)
        return replace(self, over=over, weights=weights)

    def after(self, stored: Floats) -> Floats:
        """Cost of what is to come after the steps, by kWh stored at their end."""
        cost: Floats = self.later.at(stored) + LEFT_LOSES * self.price * stored
        return cost

    def costs(self, sets: Sequence[SlotSet]) -> Floats:
        """(sets) Expected cost of each, with what is to come, what its windows must earn, and what is left loses."""
        played = play(self.over, candidates(sets, self.choice.battery), np.full((1, 1), self.stored))
        expected: Floats = (played.cost + self.after(played.stored)) @ self.weights
        lowest = self.choice.stops[0]
        whole: Floats = expected + np.array(
            [sum(self.earn[at.begin, at.end, at.stop - lowest] for at in one) for one in sets]
        )
        return whole
