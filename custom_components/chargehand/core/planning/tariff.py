"""Tariffs of bands, and the price of every step of a horizon."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, time, timedelta
from enum import StrEnum
from itertools import pairwise
from math import isfinite

import numpy as np
from numpy.typing import NDArray

from .faults import BadTariff, PriceGap
from .horizon import Horizon

DAY = 24 * 60
"""Minutes of a day."""
_MINUTE = timedelta(minutes=1)

type Floats = NDArray[np.float64]


class Days(StrEnum):
    """On which days a band begins."""

    EVERY_DAY = "every_day"
    WORKDAYS = "workdays"
    WEEKEND = "weekend"


class Keeps(StrEnum):
    """The time that the bands are in: the house's, or the same without summer time."""

    LOCAL = "local"
    STANDARD = "standard"


_WEEKDAYS = {Days.EVERY_DAY: range(7), Days.WORKDAYS: range(5), Days.WEEKEND: range(5, 7)}


@dataclass(frozen=True, kw_only=True, slots=True)
class Band:
    """`buy` a kWh from `start` to `end` (times, or minutes of the day); an end that is not after the start is on the next day."""

    start: time | int
    end: time | int
    buy: float
    days: Days = Days.EVERY_DAY

    def minutes(self) -> tuple[int, int]:
        """Start and end in minutes since the midnight before it starts; raises BadTariff."""
        start, end = _minute(self.start), _minute(self.end)
        if start == end or not (0 <= start < DAY and 0 <= end <= DAY):
            raise BadTariff(
                f"a band from {_clock(start)} to {_clock(end)} lasts no time: give two times of a day that differ",
                "band_no_time",
                start=_clock(start),
                end=_clock(end),
            )
        return start, end if end > start else end + DAY


@dataclass(frozen=True, kw_only=True, slots=True)
class Tariff:
    """Bands, and the prices per kWh outside them and for what is fed in."""

    bands: tuple[Band, ...] = ()
    buy: float
    sell: float = 0.0
    keeps: Keeps = Keeps.LOCAL


@dataclass(frozen=True, kw_only=True, slots=True)
class DatedPrice:
    """Prices per kWh from an aware moment to another."""

    start: datetime
    end: datetime
    buy: float
    sell: float = 0.0


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Prices:
    """`buy` and `sell` per kWh, one for each step of the horizon."""

    horizon: Horizon
    buy: Floats
    sell: Floats


def tariff_prices(tariff: Tariff, horizon: Horizon) -> Prices:
    """Return the tariff over a horizon; a step that two bands share has the mean of its minutes. Raises BadTariff."""
    return Prices(
        horizon=horizon,
        buy=_minutes_of(tariff, horizon).mean(axis=1),
        sell=np.full(horizon.steps, tariff.sell),
    )


def dated_prices(prices: Sequence[DatedPrice], horizon: Horizon) -> Prices:
    """Dated prices over a horizon. Raises BadTariff for some that overlap, PriceGap for a time without one."""
    buy, sell = _dated_minutes(prices, horizon)
    gap = np.isnan(buy).ravel()
    if gap.any():
        begun = int(np.argmax(gap))
        known = np.flatnonzero(~gap[begun:])
        ended = begun + int(known[0]) if known.size else gap.size
        zone = horizon.starts[0].tzinfo
        first = horizon.starts[0].astimezone(UTC)
        raise PriceGap((first + begun * _MINUTE).astimezone(zone), (first + ended * _MINUTE).astimezone(zone))
    return Prices(horizon=horizon, buy=buy.mean(axis=1), sell=sell.mean(axis=1))


def dated_over_tariff(prices: Sequence[DatedPrice], tariff: Tariff, horizon: Horizon) -> tuple[Prices, float]:
    """Return dated prices, and the tariff's where there is none; and for how many hours there is one. Raises BadTariff.

    A tariff without bands says nothing of the time of day: an hour without a price is then as the one 24 hours before, where that has one.
    """
    buy, sell = _dated_minutes(prices, horizon, earlier=0 if tariff.bands else DAY)
    hours = float((~np.isnan(buy[-horizon.steps :])).sum()) / 60
    if not tariff.bands:
        buy, sell = (_as_the_day_before(side.ravel()).reshape(side.shape) for side in (buy, sell))
    buy, sell = buy[-horizon.steps :], sell[-horizon.steps :]
    gap = np.isnan(buy)
    buy = np.where(gap, _minutes_of(tariff, horizon), buy)
    sell = np.where(gap, tariff.sell, sell)
    return Prices(horizon=horizon, buy=buy.mean(axis=1), sell=sell.mean(axis=1)), hours


def _as_the_day_before(minutes: Floats) -> Floats:
    """Return minutes without a price as those of the day before, day after day."""
    filled = minutes.copy()
    for first in range(DAY, len(filled), DAY):
        span = slice(first, first + DAY)
        day, before = filled[span], filled[first - DAY : first]
        filled[span] = np.where(np.isnan(day), before[: len(day)], day)
    return filled


def _minutes_of(tariff: Tariff, horizon: Horizon) -> Floats:
    """Return (steps, minutes of a step): the tariff's price of each minute."""
    week = _week(tariff)
    minutes = np.empty((horizon.steps, horizon.step_minutes))
    for at, start in enumerate(horizon.starts):
        shown = start if tariff.keeps is Keeps.LOCAL else _standard(start)
        first = shown.weekday() * DAY + shown.hour * 60 + shown.minute
        minutes[at] = week.take(range(first, first + horizon.step_minutes), mode="wrap")
    return minutes


def _dated_minutes(prices: Sequence[DatedPrice], horizon: Horizon, earlier: int = 0) -> tuple[Floats, Floats]:
    """Return (steps, minutes of a step): what each minute costs and earns, NaN without a price, from `earlier` minutes before on. Raises BadTariff."""
    for price in prices:
        _check(price.buy, price.sell)
        if price.start.tzinfo is None or price.end.tzinfo is None:
            raise BadTariff(f"the price from {price.start} has no time zone: give times with one")
    # Times of one zone are compared by the clock, which shows an hour of autumn twice.
    real = [replace(price, start=price.start.astimezone(UTC), end=price.end.astimezone(UTC)) for price in prices]
    ordered = sorted(real, key=lambda price: price.start)
    for price in ordered:
        if price.start >= price.end:
            text = f"the price from {price.start} ends before it starts: swap its times"
            raise BadTariff(text, "price_backward", start=str(price.start))
    for before, after in pairwise(ordered):
        if after.start < before.end:
            raise BadTariff(f"two prices for {after.start}: give one for each time", "price_twice", at=str(after.start))
    first, last = horizon.starts[0].astimezone(UTC) - earlier * _MINUTE, horizon.end.astimezone(UTC)
    minutes = round((last - first) / _MINUTE)
    buy, sell = np.full(minutes, np.nan), np.full(minutes, np.nan)
    for price in ordered:
        span = slice(*(min(max(round((at - first) / _MINUTE), 0), minutes) for at in (price.start, price.end)))
        buy[span], sell[span] = price.buy, price.sell
    shape = (-1, horizon.step_minutes)
    return buy.reshape(shape), sell.reshape(shape)


def _week(tariff: Tariff) -> Floats:
    """Return the price of each minute of a week from Monday 00:00."""
    _check(tariff.buy, tariff.sell)
    week = np.full(7 * DAY, np.nan)
    for band in tariff.bands:
        _check(band.buy, tariff.sell)
        start, end = band.minutes()
        for weekday in _WEEKDAYS[band.days]:
            covered = np.arange(weekday * DAY + start, weekday * DAY + end) % (7 * DAY)
            if not np.isnan(week[covered]).all():
                raise BadTariff(
                    f"the band from {_clock(start)} overlaps another one: give each time of a day to one band",
                    "band_overlap",
                    start=_clock(start),
                )
            week[covered] = band.buy
    return np.where(np.isnan(week), tariff.buy, week)


def _standard(moment: datetime) -> datetime:
    """Return the same moment as a clock shows it that is never moved for summer time."""
    ahead = [moment.replace(month=month, day=1).utcoffset() or timedelta() for month in (1, 7)]
    return (moment.astimezone(UTC) + min(ahead)).replace(tzinfo=None)


def _clock(minute: int) -> str:
    return f"{minute // 60:02d}:{minute % 60:02d}"


def _minute(at: time | int) -> int:
    return at if isinstance(at, int) else at.hour * 60 + at.minute


def _check(*prices: float) -> None:
    if not all(isfinite(price) for price in prices):
        raise BadTariff("a price is not a number: give one per kWh", "price_no_number")
