"""A schedule rehearsed: how the battery would go under windows that somebody thinks of, before anything is written."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import isfinite

import numpy as np
from numpy.typing import NDArray

from .battery import Battery
from .candidates import Limits
from .expected_course import ExpectedCourse, PlayedDay, course_after
from .faults import BadBattery, BadHorizon
from .horizon import Horizon
from .look_ahead import look_ahead
from .scenarios import Scenarios, check
from .simulate import Dynamics
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

    These have the windows every day. All else is what the windows of the coming day bring, as a plan counts it: later nights are planned by
    then, with these windows as without any. `cost` is what the bill says to the end of the horizon, `cost_without` the same without windows.
    `left_kwh` more than without is stored at the end, and worth `left_gain`. `wear_cost` is the wear that the windows add. `grid_charge_kwh`
    is bought in the coming day's charge windows, at the meter.
    """

    level: Floats
    low: Floats
    high: Floats
    cost: float
    cost_without: float
    left_kwh: float
    left_gain: float
    wear_cost: float
    grid_charge_kwh: float

    @property
    def saving(self) -> float:
        """What the windows save on the bill."""
        return self.cost_without - self.cost


class Rehearsal:
    """A house and its battery over a horizon, for any number of schedules. Not for two threads at a time."""

    def __init__(
        self, battery: Battery, level: float, prices: Prices, scenarios: Scenarios, limits: Limits | None = None
    ) -> None:
        """Prepare from the battery's level in % at the start. Later nights keep to `limits`. Raises PlanningFault."""
        check(scenarios, prices.horizon)
        if not isfinite(level) or not 0 <= level <= 100:
            raise BadBattery(f"the battery's level is {level:g} %: give 0 to 100")
        self.battery, self.horizon = battery, prices.horizon
        self._stored, self._weights = battery.energy(level), scenarios.weights
        self.load, self.solar = scenarios.weights @ scenarios.load, scenarios.weights @ scenarios.solar
        """(steps) kWh expected in each step."""

        self._ahead = look_ahead(battery, prices, scenarios, limits or Limits())
        self._dynamics = Dynamics(self._ahead.over)
        self._without = self._worth(self._played(()))

    def under(self, windows: Sequence[RehearsedWindow]) -> Rehearsed:
        """Return what is expected with these windows. Raises BadHorizon for two that act at one time."""
        played = self._played(windows)
        course, without = self._worth(played), self._without
        low, high = _spread(played.levels, self._weights)
        percent = 100 / self.battery.capacity_kwh
        return Rehearsed(
            level=played.levels @ self._weights * percent,
            low=low * percent,
            high=high * percent,
            cost=course.paid,
            cost_without=without.paid,
            left_kwh=float(course.levels[-1] - without.levels[-1]),
            left_gain=course.left - without.left,
            wear_cost=course.wear - without.wear,
            grid_charge_kwh=float(course.charge[: self._ahead.steps].sum()),
        )

    def _worth(self, played: PlayedDay) -> ExpectedCourse:
        """Return the course by which windows are judged: of what was played, the coming day."""
        # On a later day they charge for what is used beyond the horizon, which a bill to its end would not show.
        day = slice(0, self._ahead.steps)
        return course_after(self._ahead, PlayedDay(levels=played.levels[day], net=played.net[day], wear=played.wear))

    def _played(self, windows: Sequence[RehearsedWindow]) -> PlayedDay:
        """Play the whole horizon with the windows every day; `wear` is the coming day's."""
        at, over = self._dynamics, self._ahead.over
        acting = _acting(windows, self.horizon)
        stored = np.full(len(over.net_load), self._stored)
        levels, nets = np.empty((over.steps, len(stored))), np.empty((over.steps, len(stored)))
        wear = np.zeros(len(stored))
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
            if step < self._ahead.steps:
                wear += at.wear(change)
        return PlayedDay(levels=levels, net=nets, wear=wear)


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
