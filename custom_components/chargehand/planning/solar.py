"""What the roof may give in the coming steps: from a forecast, from the season's history, or nothing."""

from collections.abc import Mapping, Sequence
from datetime import UTC, date, datetime, timedelta
from math import acos, cos, isfinite, pi, radians, sin, sqrt, tan

import numpy as np

from .faults import BadOutlook
from .history import Hour, alike, check_history, main_day
from .horizon import Horizon
from .outlook import Outlook, given
from .tariff import Floats

PRIOR_SPREAD = 0.30
"""Relative error of a day-ahead forecast of a day's energy before anything is known of this one (common practice, no source)."""
PRIOR_DAYS = 10
"""For so many days of its own that prior counts."""
MOST_PAIRS = 60
LEAST_FORECAST = 0.25
"""Errors are relative to the forecast, or to this share of the mean forecast where that is more: a dull day's are not boundless."""
SEASON_DAYS = 12.0
"""A day of history this far off in the year weighs exp(-1/2)."""

# Middles of seven equal parts of a standard normal distribution.
_NORMAL = (-1.4652, -0.7916, -0.3661, 0.0, 0.3661, 0.7916, 1.4652)
_NEXT_DAY = 3
"""The second day's error is another one: places to move on in the list above."""


def solar_from_forecast(
    forecast: Mapping[datetime, float], horizon: Horizon, *, pairs: Sequence[tuple[float, float]] = ()
) -> Outlook:
    """Seven courses around a forecast (kWh by aware start of an hour), apart as its errors are: `pairs` of a day's forecast and actual kWh.

    An hour that the forecast lacks is that of the day before, else after, else 0. Raises BadOutlook.
    """
    known: dict[datetime, float] = {}
    for start, kwh in forecast.items():
        if start.tzinfo is None or not isfinite(kwh) or kwh < 0:
            raise BadOutlook(f"the forecast for {start} is {kwh}: give 0 or more kWh for aware hours")
        known[start.astimezone(UTC)] = kwh
    hours = [start.astimezone(UTC).replace(minute=0) for start in horizon.starts]
    middle = np.array([_hour(known, hour) for hour in hours]) * horizon.step_hours
    bias, spread = forecast_error(pairs)
    first = horizon.starts[0].date()
    late = np.array([(start.date() - first).days for start in horizon.starts])
    errors = np.array(_NORMAL)
    # Seven middles spread less than the whole distribution does.
    errors /= sqrt(float((errors**2).mean()))
    places = (np.arange(len(errors))[:, np.newaxis] + _NEXT_DAY * np.maximum(late - 1, 0)) % len(errors)
    factors = np.maximum(1 + bias + spread * errors[places], 0.0)
    return Outlook(
        weights=np.full(len(errors), 1 / len(errors)), kwh=factors * middle, days=min(len(pairs), MOST_PAIRS)
    )


def forecast_error(pairs: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """Mean and spread of (actual - forecast) / forecast over the last pairs, drawn to 0 and PRIOR_SPREAD while those are few."""
    sound = [(told, was) for told, was in pairs if isfinite(told) and isfinite(was) and told >= 0 and was >= 0][
        -MOST_PAIRS:
    ]
    if not sound or not any(told for told, _ in sound):
        return 0.0, PRIOR_SPREAD
    least = LEAST_FORECAST * sum(told for told, _ in sound) / len(sound)
    errors = [(was - told) / max(told, least) for told, was in sound]
    count = PRIOR_DAYS + len(errors)
    bias = sum(errors) / count
    square = PRIOR_DAYS * PRIOR_SPREAD**2 + sum((error - bias) ** 2 for error in errors)
    return bias, sqrt(square / count)


def solar_from_history(history: Sequence[Hour], horizon: Horizon) -> Outlook | None:
    """Courses like the days of the same season, this year's and earlier ones'; None with too few usable days."""
    checked = check_history(history, horizon.start.tzinfo)
    if not checked.enough:
        return None
    coming = main_day(horizon)
    apart = np.array([_apart(day, coming) for day in checked.dates])
    apart -= apart.min()
    weights = np.exp(-((apart / SEASON_DAYS) ** 2) / 2)
    return alike(checked, weights, horizon)


def given_solar(kwh_a_day: float, horizon: Horizon, *, latitude: float = 50.0) -> Outlook:
    """One course of so many kWh a day, half a sine from sunrise to sunset by the day's length, noon at 12. Raises BadOutlook."""
    if not -90 <= latitude <= 90:
        raise BadOutlook(f"latitude {latitude:g}: give -90 to 90 degrees")
    shape = np.array([_sun(start, latitude) for start in horizon.starts])
    by_day: dict[date, Floats] = {}
    for day in {start.date() for start in horizon.starts}:
        midnight = datetime(day.year, day.month, day.day, tzinfo=UTC)
        by_day[day] = np.array([_sun(midnight + timedelta(minutes=m), latitude) for m in range(0, 1440, 30)])
    totals = np.array([max(float(by_day[start.date()].sum()) / 2, 1e-9) for start in horizon.starts])
    return given(kwh_a_day * shape / totals * horizon.step_hours)


def no_solar(horizon: Horizon) -> Outlook:
    """No roof."""
    return given(np.zeros(horizon.steps))


def _hour(known: Mapping[datetime, float], hour: datetime) -> float:
    day = timedelta(days=1)
    for at in (hour, hour - day, hour + day, hour - 2 * day):
        if at in known:
            return known[at]
    return 0.0


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
