"""The battery over the steps of a stage under windows, in all scenarios and for all sets of windows at once.

Outside a window it follows the load: solar surplus charges it, what the house lacks comes from it down to the reserve. In a window it charges
at the window's power to the stop level whatever the sun gives, and rests from there: neither sun nor house moves it.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .battery import Battery
from .candidates import Candidates
from .tariff import Floats, Prices


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Stage:
    """Steps of a horizon under scenarios: prices (steps), and load less solar `net_load` (scenarios, steps) in kWh."""

    battery: Battery
    hours: float
    """Of a step."""
    buy: Floats
    sell: Floats
    net_load: Floats

    def part(self, first: int, last: int) -> Stage:
        """Return the steps `first` to before `last`."""
        span = slice(first, last)
        return Stage(
            battery=self.battery,
            hours=self.hours,
            buy=self.buy[span],
            sell=self.sell[span],
            net_load=self.net_load[:, span],
        )

    def under(self, net_load: Floats) -> Stage:
        """Return the same steps under other scenarios."""
        return Stage(battery=self.battery, hours=self.hours, buy=self.buy, sell=self.sell, net_load=net_load)

    @property
    def steps(self) -> int:
        """How many."""
        return len(self.buy)


def stage(battery: Battery, prices: Prices, load: Floats, solar: Floats) -> Stage:
    """Return a whole horizon as one stage."""
    hours = prices.horizon.step_hours
    return Stage(battery=battery, hours=hours, buy=prices.buy, sell=prices.sell, net_load=load - solar)


class Dynamics:
    """What a step does to the battery and at the meter. Energies are in kWh; arguments broadcast against each other."""

    def __init__(self, over: Stage) -> None:
        """Prepare for the steps of a stage."""
        battery = over.battery
        self.over = over
        self.battery = battery
        self._most, self._slope = battery.taper(over.hours)
        self._reserve = battery.energy(battery.reserve_level)
        charge, discharge = battery.charge_kw * over.hours, battery.discharge_kw * over.hours
        self.surplus = np.minimum(np.maximum(-over.net_load, 0) * battery.charge_efficiency, charge)
        """(scenarios, steps) What the sun would store."""
        self.wanted = np.minimum(np.maximum(over.net_load, 0) / battery.discharge_efficiency, discharge)
        """(scenarios, steps) What the house would take out."""

    def room(self, energy: Floats) -> Floats:
        """Return what can be stored within a step."""
        room: Floats = self._most - self._slope * energy
        np.minimum(room, self.battery.capacity_kwh - energy, out=room)
        return np.maximum(room, 0, out=room)

    def outside(self, energy: Floats, surplus: Floats, wanted: Floats) -> Floats:
        """Return what a step outside windows stores; less than 0: takes out."""
        taken: Floats = np.maximum(energy - self._reserve, 0)
        taken = np.minimum(taken, wanted)
        # Half of all steps are without sun, and what there is room for is the most work.
        if not surplus.any():
            return np.negative(taken, out=taken)
        change: Floats = np.minimum(self.room(energy), surplus)
        change -= taken
        return change

    def inside(self, energy: Floats, most: Floats | float, stop: Floats | float) -> Floats:
        """Return what a step of a window stores that stores up to `most` in it and stops at `stop`."""
        charge: Floats = np.minimum(self.room(energy), most)
        charge = np.minimum(charge, stop - energy)
        return np.maximum(charge, 0, out=charge)

    def net(self, change: Floats, net_load: Floats) -> Floats:
        """Return what the meter counts in a step that stores `change`; less than 0: fed in."""
        if not change.size or change.max() <= 0:
            whole: Floats = change * self.battery.discharge_efficiency
        elif change.min() >= 0:
            whole = change / self.battery.charge_efficiency
        else:
            whole = np.maximum(change, 0) / self.battery.charge_efficiency
            whole += np.minimum(change, 0) * self.battery.discharge_efficiency
        return whole + net_load

    def wear(self, change: Floats) -> Floats:
        """Return the cost of wear of a step that stores `change`."""
        served: Floats = np.minimum(change, 0) * (-self.battery.wear * self.battery.discharge_efficiency)
        return served


def bill(net: Floats, buy: Floats, sell: Floats) -> Floats:
    """Return what is bought less what is sold, by what the meter counts."""
    if net.size and net.min() >= 0:
        return buy * net
    cost: Floats = buy * np.maximum(net, 0)
    cost += sell * np.minimum(net, 0)
    return cost


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Simulated:
    """`bill` and `wear` in all, `stored` kWh at the end, of the shape of the start; by step (steps, *shape) where traced."""

    bill: Floats
    wear: Floats
    stored: Floats
    levels: Floats | None = None
    net: Floats | None = None

    @property
    def cost(self) -> Floats:
        """What is paid, and wear."""
        return self.bill + self.wear


def simulate(over: Stage, sets: Candidates, stored: Floats, *, trace: bool = False) -> Simulated:
    """Simulate from `stored` kWh, broadcast to (sets, scenarios) or (sets, scenarios, levels)."""
    extra = (1,) * (stored.ndim - 2)
    shape = np.broadcast_shapes(stored.shape, (len(sets.sets), len(over.net_load), *extra))
    energy = np.broadcast_to(stored, shape).copy()
    paid, worn = np.zeros(shape), np.zeros(shape)
    at = Dynamics(over)
    steps = np.arange(over.steps)
    levels = np.empty((over.steps, *shape)) if trace else None
    nets = np.empty((over.steps, *shape)) if trace else None
    per_set, per_scenario = (len(sets.sets), 1, *extra), (1, -1, *extra)
    inside = (sets.begin[:, :, np.newaxis] <= steps) & (steps < sets.end[:, :, np.newaxis])
    any_inside: NDArray[np.bool_] = np.any(inside, axis=1)
    powers = (inside * sets.power[:, :, np.newaxis]).sum(axis=1) * over.hours
    stops = (inside * sets.stop[:, :, np.newaxis]).sum(axis=1)
    for step in range(over.steps):
        surplus, wanted, net_load = (of[:, step].reshape(per_scenario) for of in (at.surplus, at.wanted, over.net_load))
        in_window = any_inside[:, step]
        if in_window.all():
            change = at.inside(energy, powers[:, step].reshape(per_set), stops[:, step].reshape(per_set))
        else:
            change = at.outside(energy, surplus, wanted)
            if in_window.any():
                those = np.flatnonzero(in_window)
                some = (-1, *per_set[1:])
                change[those] = at.inside(
                    energy[those], powers[those, step].reshape(some), stops[those, step].reshape(some)
                )
        energy += change
        net = at.net(change, net_load)
        paid += bill(net, over.buy[step], over.sell[step])
        if at.battery.wear:
            worn += at.wear(change)
        if levels is not None and nets is not None:
            levels[step], nets[step] = energy, net
    return Simulated(bill=paid, wear=worn, stored=energy, levels=levels, net=nets)
