"""Invented prices of every half hour: low at night and at noon, lower under a bright sky and at weekends, below zero at times."""

import numpy as np

from tests.benchmarks.houses.calendar import STEPS, Floats, day_of_each, half_hours
from tests.benchmarks.houses.weather import Weather


def market(sky: Weather, noise: float, rng: np.random.Generator) -> Floats:
    """What a kWh costs on the market in each half hour."""
    local, day = half_hours(), day_of_each()
    hour = local.hour.to_numpy() + local.minute.to_numpy() / 60
    summer = 0.5 - 0.5 * np.cos(2 * np.pi * (local.dayofyear.to_numpy() - 5) / 365)
    level = np.zeros(day.max() + 1)
    for at in range(1, len(level)):
        level[at] = 0.7 * level[at - 1] + rng.normal(0, 0.018)

    def hump(middle: float, width: float) -> Floats:
        return np.exp(-(((hour - middle) / width) ** 2))

    # The whole country's clouds are like this house's, but not the same.
    bright = np.clip(sky.clearness + rng.normal(0, 0.12, len(level)), 0, 1)[day]
    spot: Floats = (
        0.105
        - 0.025 * summer
        + level[day]
        - 0.02 * (local.dayofweek.to_numpy() >= 5)
        - 0.035 * hump(3, 3)
        + 0.03 * hump(8, 1.5)
        + 0.07 * hump(19, 2)
        - (0.03 + 0.17 * summer) * bright * hump(13, 2.8)
        + rng.normal(0, noise, STEPS)
    )
    return spot
