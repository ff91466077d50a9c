"""What a house uses in every half hour of the year, with days that differ."""

import numpy as np
import pandas as pd
from demandlib.bdew import H25, P25, S25, HeatBuilding

from tests.benchmarks.houses.calendar import EARLIER, FIRST, STEPS, Floats, day_of_each, half_hours
from tests.benchmarks.houses.house import House, Profile
from tests.benchmarks.houses.measured import measured
from tests.benchmarks.houses.weather import Weather

DAY_SPREAD = 0.28
"""By how much the days of a household differ, as a share (20 to 32 % in the households of SimBench, measured)."""
_HALF_HOUR_SPREAD = 0.35
_PERSIST = 0.3
_AWAY = 0.2
"""What a house uses while nobody is at home."""
_CAR_KW = 11.0
_YEAR = slice(EARLIER * 48, (EARLIER + 365) * 48)
_PROFILES = {Profile.H25: H25, Profile.P25: P25, Profile.S25: S25}


def load(house: House, sky: Weather, rng: np.random.Generator) -> Floats:
    """KWh of each half hour."""
    day = day_of_each()
    if house.profile in _PROFILES:
        walk = np.zeros(day.max() + 1)
        for at in range(1, len(walk)):
            walk[at] = _PERSIST * walk[at - 1] + rng.normal(0, np.sqrt(1 - _PERSIST**2))
        days = np.exp(np.sqrt(np.log(1 + DAY_SPREAD**2)) * walk)
        values = _standard(house.profile) * days[day] * rng.lognormal(0, _HALF_HOUR_SPREAD, STEPS)
    else:
        values = measured(house.profile).copy()
    values *= house.load_kwh / values[_YEAR].sum()
    of_year = day - EARLIER + 1
    for begin, factor in house.tenants:
        values[of_year >= begin] *= factor
    for begin, end in house.away:
        values[(of_year >= begin) & (of_year <= end)] *= _AWAY
    if house.heat_kwh:
        values += _heat_pump(house.heat_kwh, sky)
    if house.car:
        values += measured("car") * _CAR_KW / 2
    return values


def _standard(profile: Profile) -> Floats:
    """A standard load profile of BDEW (`demandlib`), by local time."""
    make = _PROFILES[profile]
    quarters = pd.concat(
        [make(pd.date_range(f"{year}-01-01", f"{year}-12-31 23:45", freq="15min")) for year in (2024, 2025, 2026)]
    )
    shape = quarters.groupby(quarters.index.floor("30min")).sum()
    return np.asarray(shape.loc[half_hours().tz_localize(None)], dtype=np.float64).ravel()


def _heat_pump(heat_kwh: float, sky: Weather) -> Floats:
    """Electricity of a heat pump for a one-family house: BDEW's heat profile (`demandlib`) by its temperature, and a coefficient of
    performance that falls with it (invented: 2.2 at -10 degC, 4.2 at 15 degC).
    """
    hours = pd.date_range(FIRST.date(), periods=STEPS // 2, freq="h")
    celsius = sky.celsius.reshape(-1, 2).mean(axis=1)
    profile = HeatBuilding(
        hours,
        temperature=pd.Series(celsius, index=hours),
        shlp_type="EFH",
        building_class=5,
        wind_class=0,
        annual_heat_demand=heat_kwh * len(hours) / 8760,
    ).get_bdew_profile()
    performance = np.clip(3.0 + 0.08 * celsius, 1.8, 5.0)
    electric: Floats = np.repeat(np.asarray(profile, dtype=np.float64) / performance, 2) / 2
    return electric
