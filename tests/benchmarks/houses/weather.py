"""Weather of the yearly measurement: temperature, clouds, and what a roof gives under them."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from pvlib.location import Location

from tests.benchmarks.houses.calendar import STEPS, Floats, day_of_each, half_hours

_TILT, _FACING, _LATITUDE, _LONGITUDE = 35, 180, 50.0, 10.0
_PERFORMANCE = 0.8
"""Of a roof: kWh at the meter for each kWh/m2 and kWp (common practice, no source)."""
_PERSIST = 0.55
"""How much of today's cloud is in tomorrow's (invented)."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Weather:
    """`celsius`, and kWh of 1 kWp as it is and under a `clear` sky, by half hour; `clearness` by day, 0 to 1."""

    celsius: Floats
    solar: Floats
    clear: Floats
    clearness: Floats


def weather(rng: np.random.Generator) -> Weather:
    """A place in Central Europe under clouds of its own."""
    day = day_of_each()
    local = half_hours()
    of_year = local.dayofyear.to_numpy()[np.unique(day, return_index=True)[1]]
    winter = np.cos(2 * np.pi * (of_year - 5) / 365)
    state = _walk(rng, len(of_year), _PERSIST)
    # Between nearly nothing and a clear day, darker in winter; in summer, too, a day in five gives less than a third of a clear one.
    clearness = 0.1 + 0.85 / (1 + np.exp(-2 * (state - 0.3 * winter)))
    clear = _clear_sky(local)
    # A day may be brighter in the morning or in the afternoon, and clouds pass.
    hour = local.hour.to_numpy() + local.minute.to_numpy() / 60
    lean = rng.normal(0, 0.35, len(of_year))[day] * np.clip((hour - 12.5) / 5, -1, 1)
    passing = np.clip(rng.normal(1, 0.2, STEPS), 0.2, 1.3)
    solar = clear * clearness[day] * np.clip(1 + lean * (1 - clearness[day]), 0.1, 2) * passing
    celsius = (
        9.5
        - 9.5 * np.cos(2 * np.pi * (of_year - 20) / 365)[day]
        + 3.5 * _walk(rng, len(of_year), 0.8)[day]
        + 3.5 * np.sin((hour - 9) / 24 * 2 * np.pi)
    )
    return Weather(celsius=celsius, solar=solar, clear=clear, clearness=clearness)


def _walk(rng: np.random.Generator, days: int, persists: float) -> Floats:
    """A value for each day that is like the day before's, of spread 1."""
    steps = rng.normal(0, np.sqrt(1 - persists**2), days)
    state = np.zeros(days)
    for at in range(1, days):
        state[at] = persists * state[at - 1] + steps[at]
    return state


def _clear_sky(local: pd.DatetimeIndex) -> Floats:
    """KWh of 1 kWp in each half hour under a clear sky (pvlib, Ineichen)."""
    where = Location(_LATITUDE, _LONGITUDE)
    middle = local + pd.Timedelta("15min")
    sky, sun = where.get_clearsky(middle, model="ineichen", linke_turbidity=3.5), where.get_solarposition(middle)
    tilt, off = np.radians(_TILT), np.radians(sun["azimuth"].to_numpy() - _FACING)
    zenith = np.radians(sun["apparent_zenith"].to_numpy())
    facing = np.cos(zenith) * np.cos(tilt) + np.sin(zenith) * np.sin(tilt) * np.cos(off)
    watts = sky["dni"].to_numpy() * np.maximum(facing, 0) + sky["dhi"].to_numpy() * (1 + np.cos(tilt)) / 2
    kwh: Floats = watts / 1000 * _PERFORMANCE / 2
    return kwh
