"""A schedule rehearsed: how the battery would go under windows that somebody thinks of, before anything is written."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import isfinite

import numpy as np
from numpy.typing import NDArray

from .battery import Battery
from .faults import BadBattery, BadHorizon
from .horizon import Horizon
from .scenarios import Scenarios, check
from .simulate import Dynamics, Stage, bill, stage
from .tariff import Floats, Prices

SPREAD = (0.1, 0.9)
"""Of the scenarios, the shares below which the level's lower and upper course are."""


@dataclass(frozen=True, kw_only=True, slots=True)
class RehearsedWindow:
    """A time that a window acts: from an aware moment to another, at `power_kw` at the battery's terminals, to a level in %.

    One that `discharges` takes energy out down to that level, for the house and beyond it for the grid.
    """

    start: datetime
    end: datetime
    power_kw: float
    stop_level: float
    discharges: bool = False


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Rehearsed:
    """What is expected under the windows. Levels in % at the end of each step: `level` the mean, `low` and `high` the spread.

    `cost` is what the bill says, `cost_without` the same without any window. `left_kwh` is stored at the end beyond what it would be without.
    `grid_charge_kwh` is bought in charge windows, at the meter.
    """

    level: Floats
    low: Floats
    high: Floats
    cost: float
    cost_without: float
    left_kwh: float
    grid_charge_kwh: float


@dataclass(frozen=True, slots=True, eq=False)
class _Course:
    levels: Floats
    """(steps, scenarios) kWh stored at the end of each step."""

    bill: Floats
    charge: Floats
    """(scenarios)"""


class Rehearsal:
    """A house and its battery over a horizon, for any number of schedules. Not for two threads at a time."""

    def __init__(self, battery: Battery, level: float, prices: Prices, scenarios: Scenarios) -> None:
        """Prepare from the battery's level in % at the start. Raises BadBattery, BadForecast."""
        check(scenarios, prices.horizon)
        if not isfinite(level) or not 0 <= level <= 100:
            raise BadBattery(f"the battery's level is {level:g} %: give 0 to 100")
        self.battery, self.horizon = battery, prices.horizon
        self._stored, self._weights = battery.energy(level), scenarios.weights
        self.load, self.solar = scenarios.weights @ scenarios.load, scenarios.weights @ scenarios.solar
        """(steps) kWh expected in each step."""

        self._over: Stage = stage(battery, prices, scenarios.load, scenarios.solar)
        self._dynamics = Dynamics(self._over)
        self._without = self._course(())

    def under(self, windows: Sequence[RehearsedWindow]) -> Rehearsed:
        """Return what is expected with these windows. Raises BadHorizon for two that act at one time."""
        course, without, weights = self._course(windows), self._without, self._weights
        low, high = _spread(course.levels, weights)
        percent = 100 / self.battery.capacity_kwh
        return Rehearsed(
            level=course.levels @ weights * percent,
            low=low * percent,
            high=high * percent,
            cost=float(course.bill @ weights),
            cost_without=float(without.bill @ weights),
            left_kwh=float((course.levels[-1] - without.levels[-1]) @ weights),
            grid_charge_kwh=float(course.charge @ weights),
        )

    def _course(self, windows: Sequence[RehearsedWindow]) -> _Course:
        at, over = self._dynamics, self._over
        acting = _acting(windows, self.horizon)
        stored = np.full(len(over.net_load), self._stored)
        levels, nets = np.empty((over.steps, len(stored))), np.empty((over.steps, len(stored)))
        bought = np.zeros(len(stored))
        for step in range(over.steps):
            window, net_load = acting[step], over.net_load[:, step]
            if window is None:
                change = at.outside(stored, at.surplus[:, step], at.wanted[:, step])
            else:
                most, stop = window.power_kw * over.hours, self.battery.energy(window.stop_level)
                change = (
                    -np.minimum(np.maximum(stored - stop, 0), most)
                    if window.discharges
                    else at.inside(stored, most, stop)
                )
            stored = stored + change
            levels[step], nets[step] = stored, at.net(change, net_load)
            if window is not None and not window.discharges:
                bought += np.maximum(np.maximum(nets[step], 0) - np.maximum(net_load, 0), 0)
        paid = bill(nets, over.buy[:, np.newaxis], over.sell[:, np.newaxis]).sum(axis=0)
        return _Course(levels, paid, bought)


def _acting(windows: Sequence[RehearsedWindow], horizon: Horizon) -> list[RehearsedWindow | None]:
    """Return which window acts in each step: edges within a step go to the nearer of its ends."""
    acting: list[RehearsedWindow | None] = [None] * horizon.steps
    for window in windows:
        first, last = (_step(horizon, moment) for moment in (window.start, window.end))
        for step in range(max(first, 0), min(last, horizon.steps)):
            if acting[step] is not None:
                raise BadHorizon(f"two windows act at {horizon.at(step):%H:%M}: end one before the other begins")
            acting[step] = window
    return acting


def _step(horizon: Horizon, moment: datetime) -> int:
    """Return the step whose start is nearest to a moment; it may be outside the horizon."""
    return round((moment - horizon.start) / timedelta(minutes=horizon.step_minutes))


def _spread(levels: Floats, weights: Floats) -> tuple[Floats, Floats]:
    """Return (steps) the lower and the upper course of weighted levels (steps, scenarios)."""
    order: NDArray[np.int64] = np.argsort(levels, axis=1, kind="stable")
    ordered = np.take_along_axis(levels, order, axis=1)
    reached = np.cumsum(weights[order], axis=1)
    low, high = (
        np.take_along_axis(ordered, (reached < share - 1e-9).sum(axis=1, keepdims=True), axis=1)[:, 0]
        for share in SPREAD
    )
    return low, high
