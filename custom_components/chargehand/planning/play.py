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


class Steps:
    """What each step does to the battery and costs; energies are in kWh, of the shape (sets, scenarios) or (sets, scenarios, levels)."""

    def __init__(self, over: Course) -> None:
        """For a course."""
        battery = over.battery
        self.over = over
        self._most, self._slope = battery.taper(over.hours)
        self._reserve = battery.energy(battery.reserve_level)
        self._surplus = np.minimum(
            np.maximum(-over.lack, 0) * battery.charge_efficiency, battery.charge_kw * over.hours
        )
        self._sold = (self._surplus > 0).any(axis=0) & (over.sell > 0)
        self._wanted = np.minimum(
            np.maximum(over.lack, 0) / battery.discharge_efficiency, battery.discharge_kw * over.hours
        )

    def room(self, energy: Floats) -> Floats:
        """What can be stored within a step."""
        room: Floats = self._most - self._slope * energy
        np.minimum(room, self.over.battery.capacity_kwh - energy, out=room)
        return np.maximum(room, 0, out=room)

    def outside(self, step: int, energy: Floats, room: Floats) -> Floats:
        """What is stored (less than 0: taken out) in a step outside windows."""
        change: Floats = np.minimum(room, _across(self._surplus, step, energy))
        change -= np.minimum(np.maximum(energy - self._reserve, 0), _across(self._wanted, step, energy))
        return change

    def inside(self, energy: Floats, room: Floats, most: Floats, stop: Floats) -> Floats:
        """What is stored in a step of a window that stores up to `most` kWh in it, and stops at `stop` kWh."""
        charge: Floats = np.minimum(room, most)
        np.minimum(charge, stop - energy, out=charge)
        return np.maximum(charge, 0, out=charge)

    def sells(self, step: int) -> bool:
        """Whether a roof has something over in a step, and that is sold for something."""
        return bool(self._sold[step])

    def kept_out(self, step: int, room: Floats, change: Floats) -> Floats:
        """What a window is charged for roof energy that it keeps out of the battery: what that is sold for.

        So no window is worth it that only rests in the sun to sell: a forecast that is too bright would cost more than that brings.
        """
        stored = np.minimum(room, _across(self._surplus, step, room))
        stored -= change
        np.maximum(stored, 0, out=stored)
        stored *= self.over.sell[step] / self.over.battery.charge_efficiency
        return stored

    def paid(self, step: int, change: Floats) -> tuple[Floats, Floats]:
        """Cost of a step that changes what is stored so, and kWh bought in it."""
        battery = self.over.battery
        served = np.minimum(change, 0) * battery.discharge_efficiency
        net = np.maximum(change, 0) / battery.charge_efficiency
        net += served
        cost, bought = self._billed(step, net)
        if battery.wear:
            cost -= battery.wear * served
        return cost, bought

    def charged(self, step: int, change: Floats) -> Floats:
        """The same cost where nothing is taken out."""
        return self._billed(step, change / self.over.battery.charge_efficiency)[0]

    def _billed(self, step: int, net: Floats) -> tuple[Floats, Floats]:
        net += _across(self.over.lack, step, net)
        bought: Floats = np.maximum(net, 0)
        cost: Floats = self.over.buy[step] * bought
        if self.over.sell[step]:
            net -= bought
            net *= self.over.sell[step]
            cost += net
        return cost, bought


def play(over: Course, sets: Candidates, stored: Floats, *, trace: bool = False) -> Played:
    """Play from `stored` kWh, broadcast to (sets, scenarios) or (sets, scenarios, levels).

    Cost is bought less sold, and wear for what reaches the house through the battery.
    """
    extra = (1,) * (stored.ndim - 2)
    shape = np.broadcast_shapes(stored.shape, (len(sets.sets), len(over.lack), *extra))
    energy = np.broadcast_to(stored, shape).copy()
    cost = np.zeros(shape)
    at = Steps(over)
    steps = np.arange(over.steps)
    levels = np.empty((over.steps, *shape)) if trace else None
    imports = np.empty((over.steps, *shape)) if trace else None
    per_set = (len(sets.sets), 1, *extra)
    inside = (sets.begin[:, :, np.newaxis] <= steps) & (steps < sets.end[:, :, np.newaxis])
    any_inside: NDArray[np.bool_] = np.any(inside, axis=1)
    powers = (inside * sets.power[:, :, np.newaxis]).sum(axis=1) * over.hours
    stops = (inside * sets.stop[:, :, np.newaxis]).sum(axis=1)
    for step in range(over.steps):
        room = at.room(energy)
        change = at.outside(step, energy, room)
        if any_inside[:, step].any():
            charge = at.inside(energy, room, powers[:, step].reshape(per_set), stops[:, step].reshape(per_set))
            in_window = any_inside[:, step].reshape(per_set)
            if at.sells(step):
                cost += in_window * at.kept_out(step, room, charge)
            change = np.where(in_window, charge, change)
        energy += change
        paid, bought = at.paid(step, change)
        cost += paid
        if levels is not None and imports is not None:
            levels[step], imports[step] = energy, bought
    return Played(cost=cost, stored=energy, levels=levels, imports=imports)


def _across(of: Floats, step: int, energy: Floats) -> Floats:
    """What a step has by scenario, to go with energies."""
    return of[:, step].reshape(1, -1, *(1,) * (energy.ndim - 2))
