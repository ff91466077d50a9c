"""What a set of windows is expected to cost, and what keeps windows away that are hardly worth it."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from .battery import Battery
from .candidates import SlotSet, candidates
from .feasible import Feasible
from .simulate import Stage, simulate
from .tariff import Floats, Prices
from .value_function import ValueFunction, grouped

WINDOW_EARNS_KWH = 0.01
"""A window must earn what so much energy costs: less is within what the model does not know."""
LEFT_LOSES = 0.01
"""What is left at the end of the coming day is worth so much of a price less: what it does not need is not charged a day early."""
_LEVEL_KWH, _STEP_KWH = 1e-5, 1e-6
"""They choose among windows of equal cost: the lower level, by 1 %, then the longer time in cheap steps, for a battery that is slower than stated."""


def may_sell(battery: Battery, prices: Prices, steps: int) -> NDArray[np.bool_]:
    """Return (steps) whether a window may rest in the sun to sell what it keeps out of the battery.

    Where a charge pays in the step, or nothing ever costs as little as what is sold brings. Elsewhere such a window would bring next to nothing
    as forecast, and cost much where the forecast is too bright.
    """
    buy, sell = prices.buy, prices.sell
    pays = [battery.worth_it(float(buy[step]), float(buy[step:].max())) for step in range(steps)]
    may: NDArray[np.bool_] = np.array(pays, dtype=np.bool_) | (sell[:steps] > buy.min())
    return may


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Objective:
    """The expected cost of windows in the steps `over` under scenarios of `weights`, from `stored` kWh, with what is to come after them."""

    feasible: Feasible
    over: Stage
    weights: Floats
    stored: float
    terminal: ValueFunction
    sells: NDArray[np.bool_]
    """(steps) Whether a window may rest in the sun and sell what it keeps out of the battery."""
    per_window: Floats = field(init=False)
    """(stop levels from the lowest on) What a window must earn."""
    per_step: Floats = field(init=False)
    """(steps) What it must earn for each step more."""
    threshold: Floats = field(init=False)
    """(begins, ends, stop levels from the lowest on) Both together."""

    def __post_init__(self) -> None:
        """Calculate what a window must earn."""
        lowest, highest = self.feasible.stops
        per_window = self.price * (WINDOW_EARNS_KWH + _LEVEL_KWH * np.arange(lowest, highest + 1))
        surplus = self.weights @ np.maximum(-self.over.net_load, 0)
        kept_out = np.where(self.sells, 0.0, np.maximum(self.over.sell, 0) * surplus)
        per_step = _STEP_KWH * (self.over.buy - self.price) + kept_out
        until = np.concatenate(([0.0], np.cumsum(per_step)))
        span = until[np.newaxis, :] - until[:-1, np.newaxis]
        object.__setattr__(self, "per_window", per_window)
        object.__setattr__(self, "per_step", per_step)
        object.__setattr__(self, "threshold", span[:, :, np.newaxis] + per_window)

    @property
    def price(self) -> float:
        """The mean price of the steps."""
        return float(np.abs(self.over.buy).mean())

    def under_groups(self, most: int) -> Objective:
        """Return the same under a few groups of the scenarios."""
        over, weights = grouped(self.over, self.weights, most)
        return self if over is self.over else self.under(over, weights)

    def under(self, over: Stage, weights: Floats) -> Objective:
        """Return the same under other scenarios."""
        return Objective(
            feasible=self.feasible,
            over=over,
            weights=weights,
            stored=self.stored,
            terminal=self.terminal,
            sells=self.sells,
        )

    def after(self, stored: Floats) -> Floats:
        """Return the cost of what is to come after the steps, by kWh stored at their end."""
        cost: Floats = self.terminal.at(stored) + LEFT_LOSES * self.price * stored
        return cost

    def earns(self, slots: SlotSet) -> float:
        """Return what these windows must earn."""
        lowest = self.feasible.stops[0]
        return float(sum(self.threshold[slot.begin, slot.end, slot.stop - lowest] for slot in slots))

    def costs(self, sets: Sequence[SlotSet]) -> Floats:
        """Return (sets): expected cost of each, with what is to come, what its windows must earn, and what is left loses."""
        simulated = simulate(self.over, candidates(sets, self.feasible.battery), np.full((1, 1), self.stored))
        expected: Floats = (simulated.cost + self.after(simulated.stored)) @ self.weights
        whole: Floats = expected + np.array([self.earns(one) for one in sets])
        return whole
