"""What the coming steps may bring: weighted courses of load and of solar energy, and the two together."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .faults import BadForecast
from .horizon import Horizon
from .tariff import Floats

MOST_SCENARIOS = 40


@dataclass(frozen=True, kw_only=True, slots=True)
class LeftOut:
    """Hours of a history that were not used, by reason."""

    missing: int = 0
    reset: int = 0
    absurd: int = 0


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Forecast:
    """`weights` (courses), sum 1; `kwh` (courses, steps), energy in each step. `days` of history it rests on, `filled` hours in them."""

    weights: Floats
    kwh: Floats
    days: int = 0
    left_out: LeftOut = LeftOut()
    filled: int = 0

    @property
    def expected(self) -> Floats:
        """Mean energy in each step."""
        return self.weights @ self.kwh


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Scenarios:
    """`weights` (scenarios), sum 1; `load` and `solar` (scenarios, steps), kWh in each step."""

    weights: Floats
    load: Floats
    solar: Floats


def given(kwh: Floats) -> Forecast:
    """Return a course that is certain; raises BadForecast."""
    if not np.isfinite(kwh).all() or (kwh < 0).any():
        raise BadForecast("an amount of energy is negative or no number: give 0 or more kWh")
    return Forecast(weights=np.ones(1), kwh=kwh[np.newaxis, :])


def joint(load: Forecast, solar: Forecast, most: int = MOST_SCENARIOS) -> Scenarios:
    """Load and solar together, taken as independent: every pair, or where those are more than `most`, that many.

    These are the points of a Hammersley set (i + 1/2) / n, van der Corput(i) in the unit square, looked up in the two distributions
    ordered by their sums: even, the same every time, and every course with the share that its weight gives it.
    """
    if load.kwh.shape[1] != solar.kwh.shape[1]:
        raise BadForecast("load and solar are for different horizons: make both for the same")
    if most < 1:
        raise BadForecast("no scenario at all: allow one or more")
    if len(load.weights) * len(solar.weights) <= most:
        first: NDArray[np.int64] = np.repeat(np.arange(len(load.weights)), len(solar.weights))
        second = np.tile(np.arange(len(solar.weights)), len(load.weights))
        weights = load.weights[first] * solar.weights[second]
    else:
        first = _at(load, (np.arange(most) + 0.5) / most)
        second = _at(solar, np.array([_van_der_corput(at) for at in range(most)]) + 0.5 / most)
        weights = np.full(most, 1 / most)
    return Scenarios(weights=weights, load=load.kwh[first], solar=solar.kwh[second])


def check(scenarios: Scenarios, horizon: Horizon) -> None:
    """Raise BadForecast for scenarios that do not fit the horizon or hold no energies."""
    shape = (len(scenarios.weights), horizon.steps)
    if not shape[0] or scenarios.load.shape != shape or scenarios.solar.shape != shape:
        raise BadForecast(
            f"scenarios of {scenarios.load.shape[-1]} steps for a horizon of {shape[1]}: make them for it"
        )
    for values in (scenarios.load, scenarios.solar, scenarios.weights):
        if not np.isfinite(values).all() or (values < 0).any():
            raise BadForecast("a scenario holds a negative energy or none: give 0 or more kWh")
    if abs(scenarios.weights.sum() - 1) > 1e-6:
        raise BadForecast("the weights of the scenarios do not make 1: divide them by their sum")


def _at(forecast: Forecast, shares: Floats) -> NDArray[np.int64]:
    order = np.argsort(forecast.kwh.sum(axis=1), kind="stable")
    reached = np.cumsum(forecast.weights[order])
    found = np.searchsorted(reached, np.minimum(shares, 1.0) * reached[-1], side="left")
    places: NDArray[np.int64] = order[np.minimum(found, len(order) - 1)]
    return places


def _van_der_corput(index: int) -> float:
    value, share = 0.0, 0.5
    while index:
        value += share * (index & 1)
        index >>= 1
        share /= 2
    return value
