"""What the house may use in the coming steps: days like the coming one, from its own history."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, tzinfo

import numpy as np

from .history import FEWEST_DAYS, FEWEST_HOURS, Hour, alike, check_history, main_day
from .horizon import Horizon
from .recent_level import level_factors
from .scenarios import Forecast, given
from .tariff import Floats

HALF_LIFE_DAYS = 14.0
LEVEL_DAYS = 60
"""The level of now is compared with that of so many days."""
SAME_KIND, OTHER_KIND = 1.0, 0.2
"""Weights of days that are workdays (or not) like the coming one, and of those that are not."""
ALIKE_KELVIN = 3.0
"""A day whose mean outdoor temperature is off by this much weighs exp(-1/2)."""

_SATURDAY = 5
# A house's day by local hour, in shares of 24 h: invented, for when there is no history.
_SHAPE = (
    *(0.6, 0.5, 0.5, 0.5, 0.5, 0.6, 0.8, 1.1, 1.1, 1.0, 1.0, 1.1),
    *(1.2, 1.1, 1.0, 1.0, 1.1, 1.4, 1.7, 1.7, 1.6, 1.4, 1.1, 0.8),
)


def load_from_history(
    history: Sequence[Hour], horizon: Horizon, *, outdoor: Mapping[datetime, float] | None = None
) -> Forecast | None:
    """Return courses of the load for a horizon, each an earlier day at the level of now; None with too few usable days.

    A day's weight is the product of three: 1/2 for each HALF_LIFE_DAYS of age, its kind of day, and, where `outdoor` (degC by aware start
    of an hour, past and coming) knows both days, how near its temperature was.
    """
    zone = horizon.start.tzinfo
    checked = check_history(history, zone)
    if not checked.enough:
        return None
    coming = main_day(horizon)
    means = _day_means(outdoor or {}, coming, zone)
    ages = np.array([max((coming - day).days, 0) for day in checked.dates])
    by_age = 0.5 ** (ages / HALF_LIFE_DAYS)
    recent = np.flatnonzero(ages <= LEVEL_DAYS)
    if len(recent) >= FEWEST_DAYS:
        dates = [checked.dates[at] for at in recent]
        days = np.nanmean(checked.kwh[recent], axis=1) * 24
        like = np.array([_likeness(dates, day, means) for day in dates])
        explained = like @ days / like.sum(axis=1)
        factors = np.ones(checked.days)
        factors[recent] = level_factors(days / np.maximum(explained, 1e-6) * days.mean(), by_age[recent])
        # Days that are older are of little weight; they are brought to the level of the oldest of these.
        factors[: recent[0]] = factors[recent[0]]
        checked = replace(checked, kwh=checked.kwh * factors[:, np.newaxis])
    return alike(checked, by_age * _likeness(checked.dates, coming, means), horizon)


def given_load(kwh_a_day: float, horizon: Horizon) -> Forecast:
    """One course of so many kWh a day, in the shape of a house's day; raises BadForecast."""
    shape = np.array([_SHAPE[start.hour] for start in horizon.starts])
    return given(kwh_a_day * shape / sum(_SHAPE) * horizon.step_hours)


def _free(day: date) -> bool:
    return day.weekday() >= _SATURDAY


def _day_means(outdoor: Mapping[datetime, float], coming: date, zone: tzinfo | None) -> dict[date, float]:
    """Return the mean temperature of the days that have one."""
    by_day: dict[date, list[float]] = {}
    for start, celsius in outdoor.items():
        if np.isfinite(celsius):
            by_day.setdefault(start.astimezone(UTC).astimezone(zone).date(), []).append(celsius)
    # The mean of a night is not that of its day; the coming day has what is forecast of it.
    return {
        day: sum(values) / len(values) for day, values in by_day.items() if len(values) >= FEWEST_HOURS or day == coming
    }


def _likeness(dates: Sequence[date], day: date, means: Mapping[date, float]) -> Floats:
    """Return (dates): how like a day each is, by the kind of day and by how near its temperature was."""
    kinds: Floats = np.array([SAME_KIND if _free(one) == _free(day) else OTHER_KIND for one in dates])
    if day not in means:
        return kinds
    # A day without a temperature is taken to be off by as much as counts for half.
    unknown = ALIKE_KELVIN * np.sqrt(2 * np.log(2))
    off = np.array([means[one] - means[day] if one in means else unknown for one in dates])
    # Only how the days differ counts, also where none is near.
    square = (off / ALIKE_KELVIN) ** 2
    like: Floats = kinds * np.exp(-(square - square.min()) / 2)
    return like
