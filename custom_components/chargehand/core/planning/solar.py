"""What the solar panels may give in the coming steps: from a forecast, from the season's history, or nothing."""

from collections.abc import Mapping, Sequence
from datetime import UTC, date, datetime, timedelta, tzinfo
from math import acos, cos, isfinite, pi, radians, sin, sqrt, tan

import numpy as np

from .faults import BadForecast
from .forecast_errors import learnt_errors
from .history import Hour, alike, check_history, main_day
from .horizon import Horizon
from .scenarios import Forecast, given
from .tariff import Floats

SEASON_DAYS = 12.0
"""A day of history this far off in the year weighs exp(-1/2)."""

# Middles of seven equal parts of a standard normal distribution.
_NORMAL = (-1.4652, -0.7916, -0.3661, 0.0, 0.3661, 0.7916, 1.4652)
_NEXT_DAY = 3
"""The second day's error is another one: places to move on in the list above."""


def solar_from_forecast(
    forecast: Mapping[datetime, float], horizon: Horizon, *, pairs: Sequence[tuple[float, float]] = ()
) -> Forecast:
    """Return seven courses around a forecast (kWh by aware start of an hour), as far apart as earlier ones erred.

    `pairs` are a day's forecast and actual kWh, oldest first. An hour that the forecast lacks is that of the day before, else after, else 0.
    Raises BadForecast.
    """
    known: dict[datetime, float] = {}
    for start, kwh in forecast.items():
        if start.tzinfo is None or not isfinite(kwh) or kwh < 0:
            raise BadForecast(f"the forecast for {start} is {kwh}: give 0 or more kWh for aware hours")
        known[start.astimezone(UTC)] = kwh
    hours = [start.astimezone(UTC).replace(minute=0) for start in horizon.starts]
    middle = np.array([_hour(known, hour) for hour in hours]) * horizon.step_hours
    learnt = learnt_errors(pairs)
    errors = np.array(_NORMAL)
    # Seven middles spread less than the whole distribution does.
    errors /= sqrt(float((errors**2).mean()))
    dates = np.array([start.toordinal() for start in horizon.starts])
    factors = np.ones((len(errors), horizon.steps))
    for late, date_ in enumerate(np.unique(dates)):
        day_kwh = _day(known, date.fromordinal(int(date_)), horizon.start.tzinfo)
        if day_kwh > 0:
            by_error = learnt.day(day_kwh, np.roll(errors, -_NEXT_DAY * max(late - 1, 0))) / day_kwh
            factors[:, dates == date_] = by_error[:, np.newaxis]
    return Forecast(weights=np.full(len(errors), 1 / len(errors)), kwh=factors * middle, days=learnt.days)


def solar_from_history(history: Sequence[Hour], horizon: Horizon) -> Forecast | None:
    """Courses like the days of the same season, this year's and earlier ones'; None with too few usable days."""
    checked = check_history(history, horizon.start.tzinfo)
    if not checked.enough:
        return None
    coming = main_day(horizon)
    apart = np.array([_apart(day, coming) for day in checked.dates])
    apart -= apart.min()
    weights = np.exp(-((apart / SEASON_DAYS) ** 2) / 2)
    return alike(checked, weights, horizon)


def given_solar(kwh_a_day: float, horizon: Horizon, *, latitude: float = 50.0) -> Forecast:
    """One course of so many kWh a day, half a sine from sunrise to sunset by the day's length, noon at 12. Raises BadForecast."""
    if not -90 <= latitude <= 90:
        raise BadForecast(f"latitude {latitude:g}: give -90 to 90 degrees")
    shape = np.array([_sun(start, latitude) for start in horizon.starts])
    by_day: dict[date, Floats] = {}
    for day in {start.date() for start in horizon.starts}:
        midnight = datetime(day.year, day.month, day.day, tzinfo=UTC)
        by_day[day] = np.array([_sun(midnight + timedelta(minutes=m), latitude) for m in range(0, 1440, 30)])
    totals = np.array([max(float(by_day[start.date()].sum()) / 2, 1e-9) for start in horizon.starts])
    return given(kwh_a_day * shape / totals * horizon.step_hours)


def no_solar(horizon: Horizon) -> Forecast:
    """Return no solar energy at all."""
    return given(np.zeros(horizon.steps))


def _hour(known: Mapping[datetime, float], hour: datetime) -> float:
    day = timedelta(days=1)
    for at in (hour, hour - day, hour + day, hour - 2 * day):
        if at in known:
            return known[at]
    return 0.0


def _day(known: Mapping[datetime, float], day: date, zone: tzinfo | None) -> float:
    """Return a forecast of a whole local day."""
    midnight = datetime(day.year, day.month, day.day, tzinfo=zone).astimezone(UTC).replace(minute=0)
    return sum(_hour(known, midnight + timedelta(hours=at)) for at in range(24))


def _apart(day: date, coming: date) -> int:
    days = abs(day.timetuple().tm_yday - coming.timetuple().tm_yday)
    return min(days, 365 - days) if days <= 365 else 0


def _sun(start: datetime, latitude: float) -> float:
    """Relative power in the middle of a step of half an hour. Declination by Cooper's equation (from memory)."""
    declination = radians(23.45) * sin(2 * pi * (284 + start.timetuple().tm_yday) / 365)
    edge = -tan(radians(max(min(latitude, 89.0), -89.0))) * tan(declination)
    half_day = acos(max(-1.0, min(1.0, edge))) * 12 / pi
    from_noon = start.hour + start.minute / 60 + 0.25 - 12
    return cos(pi / 2 * from_noon / half_day) if abs(from_noon) < half_day else 0.0
