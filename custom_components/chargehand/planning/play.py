"""How the battery goes through the steps under windows, in all scenarios and for all sets of windows at once.

Outside a window it follows the load: what the roof has over charges it, what the house lacks comes from it down to the reserve. In a window it
charges at the window's power to the stop level whatever the roof gives, and rests from there: neither roof nor house moves it.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .battery import Battery
from .tariff import Floats, Prices
from .windows import Candidates


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Course:
    """Steps `first` to before `last` of a horizon under scenarios: prices (steps), the house's lack `lack` (scenarios, steps) in kWh."""

    battery: Battery
    hours: float
    buy: Floats
    sell: Floats
    lack: Floats

    def part(self, first: int, last: int) -> Course:
        """Some of its steps."""
        span = slice(first, last)
        return Course(
            battery=self.battery, hours=self.hours, buy=self.buy[span], sell=self.sell[span], lack=self.lack[:, span]
        )

    def some(self, scenarios: Floats) -> Course:
        """The same steps under other `lack`."""
        return Course(battery=self.battery, hours=self.hours, buy=self.buy, sell=self.sell, lack=scenarios)

    @property
    def steps(self) -> int:
        """How many."""
        return len(self.buy)


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Played:
    """`cost` and `stored` kWh at the end, of the shape of the start; by step (steps, *shape) where traced."""

    cost: Floats
    stored: Floats
    levels: Floats | None = None
    imports: Floats | None = None


def course(battery: Battery, prices: Prices, load: Floats, solar: Floats) -> Course:
    """A whole horizon."""
    hours = prices.horizon.step_hours
    return Course(battery=battery, hours=hours, buy=prices.buy, sell=prices.sell, lack=load - solar)


def play(over: Course, sets: Candidates, stored: Floats, *, trace: bool = False) -> Played:
    """Play from `stored` kWh, broadcast to (sets, scenarios) or (sets, scenarios, levels).

    Cost is bought less sold, and wear for what reaches the house through the battery.
    """
    battery, hours = over.battery, over.hours
    extra = (1,) * (stored.ndim - 2)
    shape = np.broadcast_shapes(stored.shape, (len(sets.sets), len(over.lack), *extra))
    energy = np.broadcast_to(stored, shape).copy()
    cost = np.zeros(shape)
    most, slope = battery.taper(hours)
    reserve = battery.energy(battery.reserve_level)
    steps = np.arange(over.steps)
    levels = np.empty((over.steps, *shape)) if trace else None
    imports = np.empty((over.steps, *shape)) if trace else None
    per_set = (len(sets.sets), 1, *extra)
    per_scenario = (1, len(over.lack), *extra)
    inside = (sets.begin[:, :, np.newaxis] <= steps) & (steps < sets.end[:, :, np.newaxis])
    any_inside: NDArray[np.bool_] = np.any(inside, axis=1)
    powers = (inside * sets.power[:, :, np.newaxis]).sum(axis=1) * hours
    stops = (inside * sets.stop[:, :, np.newaxis]).sum(axis=1)
    surplus = np.minimum(np.maximum(-over.lack, 0) * battery.charge_efficiency, battery.charge_kw * hours)
    wanted = np.minimum(np.maximum(over.lack, 0) / battery.discharge_efficiency, battery.discharge_kw * hours)
    for step in steps:
        lack = over.lack[:, step].reshape(per_scenario)
        room = most - slope * energy
        np.minimum(room, battery.capacity_kwh - energy, out=room)
        np.maximum(room, 0, out=room)
        change = np.minimum(room, surplus[:, step].reshape(per_scenario))
        change -= np.minimum(np.maximum(energy - reserve, 0), wanted[:, step].reshape(per_scenario))
        if any_inside[:, step].any():
            charge = np.minimum(room, powers[:, step].reshape(per_set))
            np.minimum(charge, stops[:, step].reshape(per_set) - energy, out=charge)
            np.maximum(charge, 0, out=charge)
            change = np.where(any_inside[:, step].reshape(per_set), charge, change)
        energy += change
        taken = np.maximum(change, 0) / battery.charge_efficiency
        served = np.minimum(change, 0) * battery.discharge_efficiency
        net = taken
        net += served
        net += lack
        bought = np.maximum(net, 0)
        cost += over.buy[step] * bought
        if over.sell[step]:
            cost += over.sell[step] * (net - bought)
        if battery.wear:
            cost -= battery.wear * served
        if levels is not None and imports is not None:
            levels[step], imports[step] = energy, bought
    return Played(cost=cost, stored=energy, levels=levels, imports=imports)
