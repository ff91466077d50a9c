"""Hourly energies of earlier days, with what cannot be true left out and counted."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta, tzinfo

import numpy as np

from .faults import BadForecast
from .horizon import Horizon
from .scenarios import Forecast, LeftOut
from .tariff import Floats

FEWEST_DAYS = 7
"""With fewer there is nothing to learn from."""
MOST_DAYS = 30
"""So many of the days that weigh most are played."""
FEWEST_HOURS = 20
"""A day with fewer known hours is not used; what is missing in the others is filled."""
ABSURD_TIMES, ABSURD_QUANTILE, ABSURD_LEAST = 20, 0.9, 30.0
"""An hour is absurd above so many times that quantile of all hours, and above so many kWh: a car charged with 22 kW is not, a counter's jump is."""

type Hour = tuple[datetime, float | None]
"""Aware start of an hour, and the kWh in it; None or NaN where it is not known."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Checked:
    """`kwh` (days, 24) by local hour, NaN where unknown, for the usable `dates`; what was left out, and hours to be filled."""

    dates: tuple[date, ...]
    kwh: Floats
    left_out: LeftOut
    filled: int

    @property
    def days(self) -> int:
        """How many are usable."""
        return len(self.dates)

    @property
    def enough(self) -> bool:
        """Whether a plan can rest on it."""
        return self.days >= FEWEST_DAYS


@dataclass(frozen=True, kw_only=True, slots=True)
class _Sifted:
    """What can be true, by start of the hour in UTC, and what was left out."""

    sound: dict[datetime, float]
    left_out: LeftOut


def check_history(history: Sequence[Hour], zone: tzinfo | None) -> Checked:
    """Return the usable days in a zone. Negative hours are resets of a counter. Raises BadForecast for times without a zone."""
    sifted = _sifted(history)
    sums: dict[date, Floats] = {}
    counts: dict[date, Floats] = {}
    for start, kwh in sifted.sound.items():
        local = start.astimezone(zone)
        day = local.date()
        if day not in sums:
            sums[day], counts[day] = np.zeros(24), np.zeros(24)
        sums[day][local.hour] += kwh
        counts[day][local.hour] += 1
    dates = tuple(sorted(day for day in sums if (counts[day] > 0).sum() >= FEWEST_HOURS))
    kwh_by_day = np.full((len(dates), 24), np.nan)
    for at, day in enumerate(dates):
        # The hour that a clock shows twice counts as the mean of both.
        np.divide(sums[day], counts[day], out=kwh_by_day[at], where=counts[day] > 0)
    return Checked(dates=dates, kwh=kwh_by_day, left_out=sifted.left_out, filled=int(np.isnan(kwh_by_day).sum()))


def sound_hours(history: Sequence[Hour]) -> dict[datetime, float]:
    """Return the kWh that can be true, by start of the hour in UTC. Raises BadForecast for times without a zone."""
    return _sifted(history).sound


def _sifted(history: Sequence[Hour]) -> _Sifted:
    known: dict[datetime, float] = {}
    for start, kwh in history:
        if start.tzinfo is None:
            raise BadForecast(f"the hour {start} has no time zone: give aware times")
        known[start.astimezone(UTC)] = float("nan") if kwh is None else float(kwh)
    values = np.array(list(known.values()), dtype=np.float64)
    missing = ~np.isfinite(values)
    reset = ~missing & (values < 0)
    sound = values[~missing & ~reset]
    most = max(ABSURD_TIMES * float(np.quantile(sound, ABSURD_QUANTILE)), ABSURD_LEAST) if sound.size else ABSURD_LEAST
    absurd = ~missing & ~reset & (values > most)
    bad = missing | reset | absurd
    return _Sifted(
        sound={start: kwh for (start, kwh), wrong in zip(known.items(), bad, strict=True) if not wrong},
        left_out=LeftOut(missing=int(missing.sum()), reset=int(reset.sum()), absurd=int(absurd.sum())),
    )


def alike(checked: Checked, weights: Floats, horizon: Horizon) -> Forecast:
    """Return the horizon as it would go by the days that weigh most; `weights` (days) say how like the coming one each is."""
    best = np.sort(np.argsort(-weights, kind="stable")[:MOST_DAYS])
    kept = weights[best]
    return Forecast(
        weights=kept / kept.sum(),
        kwh=_courses(checked, weights, horizon)[best],
        days=checked.days,
        left_out=checked.left_out,
        filled=checked.filled,
    )


def _courses(checked: Checked, weights: Floats, horizon: Horizon) -> Floats:
    """(days, steps) kWh: how the horizon would go if its main day went like each usable day and the others like its neighbours.

    What a day or a neighbour lacks is the weighted mean of its hour. `weights` (days) are those of the days.
    """
    mean = _hourly_means(checked.kwh, weights)
    index = {day: at for at, day in enumerate(checked.dates)}
    filled = np.where(np.isnan(checked.kwh), mean, checked.kwh)
    main = main_day(horizon)
    offsets = np.array([(start.date() - main).days for start in horizon.starts])
    hours = np.array([start.hour for start in horizon.starts])
    result = np.empty((checked.days, horizon.steps))
    for at, day in enumerate(checked.dates):
        for offset in np.unique(offsets):
            there = offsets == offset
            neighbour = index.get(day + timedelta(days=int(offset)))
            source = mean if neighbour is None else filled[neighbour]
            result[at, there] = source[hours[there]]
    return result * horizon.step_hours


def main_day(horizon: Horizon) -> date:
    """Return the local date to which most steps of the coming 24 hours belong."""
    dates = [start.date() for start in horizon.starts[: horizon.first_day]]
    return max(dict.fromkeys(dates), key=dates.count)


def _hourly_means(kwh: Floats, weights: Floats) -> Floats:
    share = np.where(np.isnan(kwh), 0.0, weights[:, np.newaxis])
    total = share.sum(axis=0)
    means = (share * np.nan_to_num(kwh)).sum(axis=0) / np.where(total > 0, total, 1.0)
    # An hour that no day knows is like the others of the day.
    known: Floats = means[total > 0]
    return np.where(total > 0, means, known.mean() if known.size else 0.0)
