"""A house of the yearly measurement, and its course through the year in half hours."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
from demandlib.bdew import H25
from numpy.typing import NDArray
from pvlib.location import Location

from custom_components.chargehand.planning import (
    BadBattery,
    BadOutlook,
    Battery,
    DatedPrice,
    Horizon,
    Prices,
    Tariff,
    dated_prices,
    tariff_prices,
)
from tests.bench.battery import CAPACITY_WH
from tests.bench.flow import EFFICIENCY, FEED_IN_LIMIT_W, RATED_W

type Floats = NDArray[np.float64]

ZONE = ZoneInfo("Europe/Berlin")
BEGIN = datetime(2025, 1, 1, 20, tzinfo=ZONE)
"""Each evening is at this time of the day."""
STEPS = 366 * 48 + 48 * 2
"""Half hours that a course has, from the midnight before BEGIN: a year and what the last horizons reach beyond it."""
RESERVE_LEVEL = 10.0
_TILT, _FACING, _LATITUDE, _LONGITUDE = 35, 180, 50.0, 10.0
_PERFORMANCE = 0.8
"""Of a roof: kWh at the meter for each kWh/m2 and kWp (common practice, no source)."""
_PERSIST = 0.55
"""How much of today's cloud is in tomorrow's (invented)."""


@dataclass(frozen=True, kw_only=True, slots=True)
class House:
    """kWh a year, kWp, usable kWh, kW of charge; a tariff of bands, or else prices of every half hour."""

    load_kwh: float
    solar_kwp: float
    capacity_kwh: float
    power_kw: float
    tariff: Tariff
    half_hourly: bool = False

    @property
    def battery(self) -> Battery:
        """As Chargehand is told of it: efficiency and limits from the data sheet, the usual taper."""
        return Battery(
            capacity_kwh=self.capacity_kwh / 0.9,
            charge_kw=min(self.power_kw, RATED_W * EFFICIENCY / 1000 / self.scale),
            discharge_kw=RATED_W / 1000 / self.scale,
            reserve_level=RESERVE_LEVEL,
        )

    @property
    def scale(self) -> float:
        """The bench's battery is so many times this one: the house is played so many times as large, under the bench's inverter."""
        return CAPACITY_WH / 1000 / (self.capacity_kwh / 0.9)

    @property
    def most_fed_kw(self) -> float:
        """What the bench's inverter feeds in at most."""
        return FEED_IN_LIMIT_W / 1000 / self.scale

    def check(self) -> None:
        """Raise PlanningFault where there is no such house."""
        if self.load_kwh < 0 or self.solar_kwp < 0:
            raise BadOutlook("load_kwh and solar_kwp are energies of a year and of a roof: give 0 or more")
        if not self.capacity_kwh > 0:
            raise BadBattery(f"capacity_kwh is {self.capacity_kwh:g}: give a number above 0")
        self.prices(Horizon(start=BEGIN))
        _ = self.battery

    def prices(self, horizon: Horizon) -> Prices:
        """Those of a horizon."""
        if not self.half_hourly:
            return tariff_prices(self.tariff, horizon)
        return dated_prices([self._dated(at) for at in horizon.starts], horizon)

    def _dated(self, start: datetime) -> DatedPrice:
        hour = start.hour + start.minute / 60
        noise = np.random.default_rng(int(start.timestamp())).normal(0, 0.01)
        day = np.random.default_rng(start.date().toordinal()).normal(0, 0.03, 2)
        night, noon, evening = (np.exp(-(((hour - at) / width) ** 2)) for at, width in ((3, 2.5), (13, 2), (18.5, 1.5)))
        buy = 0.27 + noise + day[0] - 0.09 * night - (0.09 + day[1]) * noon + 0.14 * evening
        return DatedPrice(
            start=start, end=start.astimezone(UTC) + timedelta(minutes=30), buy=float(buy), sell=self.tariff.sell
        )


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Course:
    """kWh of each half hour from `begin` (UTC): house, roof, and the roof as the clear sky would have it."""

    begin: datetime
    load: Floats
    solar: Floats

    def at(self, moment: datetime) -> int:
        """The half hour of a moment."""
        return round((moment.astimezone(UTC) - self.begin) / timedelta(minutes=30))


def course(house: House, seed: int, load: Floats | None = None, solar: Floats | None = None) -> Course:
    """The year of a house: given (STEPS), or BDEW's H25 and a clear sky (pvlib, Ineichen) under clouds of its own."""
    begin = BEGIN.replace(hour=0).astimezone(UTC)
    local = pd.date_range(begin, periods=STEPS, freq="30min").tz_convert(ZONE)
    rng = np.random.default_rng(seed)
    return Course(
        begin=begin,
        load=_load(house, local, rng) if load is None else load,
        solar=_solar(house, local, rng) if solar is None else solar,
    )


def _days(local: pd.DatetimeIndex) -> NDArray[np.int64]:
    return np.unique(local.date, return_inverse=True)[1]


def _load(house: House, local: pd.DatetimeIndex, rng: np.random.Generator) -> Floats:
    profile = pd.concat(
        [H25(pd.date_range(f"{year}-01-01", f"{year}-12-31 23:45", freq="15min")) for year in (2025, 2026)]
    )
    shape = profile.groupby(profile.index.floor("30min")).sum()
    wall = local.tz_localize(None)
    values = np.asarray(shape.loc[wall], dtype=np.float64).ravel()
    day = _days(local)
    values = values * rng.lognormal(0, 0.18, day.max() + 1)[day] * rng.lognormal(0, 0.35, len(values))
    return values / values[: 365 * 48].sum() * house.load_kwh


def _solar(house: House, local: pd.DatetimeIndex, rng: np.random.Generator) -> Floats:
    if not house.solar_kwp:
        return np.zeros(len(local))
    place = Location(_LATITUDE, _LONGITUDE)
    middle = local + pd.Timedelta("15min")
    sky, sun = place.get_clearsky(middle, model="ineichen", linke_turbidity=3.5), place.get_solarposition(middle)
    tilt, off = np.radians(_TILT), np.radians(sun["azimuth"].to_numpy() - _FACING)
    zenith = np.radians(sun["apparent_zenith"].to_numpy())
    facing = np.cos(zenith) * np.cos(tilt) + np.sin(zenith) * np.sin(tilt) * np.cos(off)
    watts = sky["dni"].to_numpy() * np.maximum(facing, 0) + sky["dhi"].to_numpy() * (1 + np.cos(tilt)) / 2
    day = _days(local)
    state = np.zeros(day.max() + 1)
    for at in range(1, len(state)):
        state[at] = _PERSIST * state[at - 1] + rng.normal(0, np.sqrt(1 - _PERSIST**2))
    # Between nearly nothing and a clear day, darker in winter; in summer, too, a day in five gives less than a third of a clear one.
    winter = np.cos(2 * np.pi * (np.arange(len(state)) - 5) / 365)
    clear = 0.1 + 0.85 / (1 + np.exp(-2 * (state - 0.3 * winter)))
    passing = np.clip(rng.normal(1, 0.2, len(watts)), 0.2, 1.3)
    values: Floats = watts / 1000 * house.solar_kwp * _PERFORMANCE / 2 * clear[day] * passing
    return values
