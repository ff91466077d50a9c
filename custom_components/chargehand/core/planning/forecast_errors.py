"""What earlier solar forecasts were wrong by: learnt from pairs of a day's forecast and actual kWh.

Forecasts err in kWh: on a dull day by as much as the day brings. So errors are compared with the season's mean day, not with the day's own
forecast, and a forecast that lies far from the season's mean is drawn towards it as far as that was right.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf, isfinite, log, sqrt

import numpy as np

from .tariff import Floats

PRIOR_SPREAD = 0.30
"""Error of a day-ahead forecast as a share of the mean day, before anything is known of this one (common practice, no source)."""
PRIOR_DAYS = 10
"""For so many days of its own that prior counts."""
MOST_PAIRS = 60
LEAST_FACTOR, MOST_FACTOR = 1 / 3, 3.0
"""A forecast is not corrected further: one that is more wrong is one of something else."""
SEASON_DAYS = 20
"""The season's mean day is that of so many days' forecasts, before and after where both are there."""
JUMP_DAYS = 4
"""So many days that are all unlike those before are another forecast, or another system: learning begins anew with them."""
JUMP_RATIO, JUMP_SPREADS = 1.5, 3.0
"""They are unlike when they give so many times more or less, and are off by so many times what chance would be."""
_LEAST_SPREAD = 0.15
_MOST_ERROR = 1.5
"""An error counts as so many season's days at most."""
_PRIOR_SQUARES = 4.0
"""So much of (forecast - season's mean)^2, in season's days, speaks for taking forecasts as they are."""
_LEAST_SLOPE = -0.7
_HUBER, _MAD = 1.345, 1.4826
"""An error counts in full up to so many spreads (95 % efficient for normal errors); a spread is so many medians of what is off (normal, too)."""
_LEAST_OFF = 0.05
_ROUNDS = 10
_HEADROOM = 1.1


@dataclass(frozen=True, kw_only=True, slots=True)
class ForecastErrors:
    """A day brings factor * forecast + slope * (forecast - season), give or take spread * season; kWh, at most `highest_kwh`."""

    days: int = 0
    """Pairs that it rests on, since the last jump."""
    factor: float = 1.0
    slope: float = 0.0
    spread: float = PRIOR_SPREAD
    season_kwh: float = 0.0
    highest_kwh: float = inf

    def day(self, forecast_kwh: float, errors: Floats) -> Floats:
        """Return what a day brings, in kWh, by standard errors."""
        count = min(self.days, SEASON_DAYS)
        # As long as little is known of the season, the day's own forecast is its mean.
        season = (self.season_kwh * count + forecast_kwh * PRIOR_DAYS) / (count + PRIOR_DAYS)
        middle = max(self.factor * forecast_kwh + self.slope * (forecast_kwh - season), 0.0)
        kwh: Floats = np.clip(middle + self.spread * season * errors, 0.0, max(self.highest_kwh, middle))
        return kwh


def learnt_errors(pairs: Sequence[tuple[float, float]]) -> ForecastErrors:
    """Return what pairs of a day's forecast and actual kWh, oldest first, say of coming ones."""
    sound = [pair for pair in pairs if all(isfinite(kwh) and kwh >= 0 for kwh in pair)][-MOST_PAIRS:]
    if not any(forecast for forecast, _ in sound):
        return ForecastErrors()
    forecast, actual = (np.array(side) for side in zip(*sound, strict=True))
    begin = _since_jump(forecast, actual)
    forecast, actual = forecast[begin:], actual[begin:]
    count = len(forecast)
    if not forecast.any():
        return ForecastErrors()
    season = _season(forecast)
    ratio = min(max(_usual_ratio(forecast, actual, season), LEAST_FACTOR), MOST_FACTOR)
    factor = 1 + count / (count + PRIOR_DAYS) * (ratio - 1)
    most = _MOST_ERROR * max(factor, 1.0)
    apart = (forecast - season) / season
    errors = np.clip((actual - factor * forecast) / season, -most, most)
    slope = max(float(apart @ errors / (apart @ apart + _PRIOR_SQUARES)), _LEAST_SLOPE * factor)
    left = errors - slope * apart
    return ForecastErrors(
        days=count,
        factor=factor,
        slope=slope,
        spread=sqrt((PRIOR_DAYS * PRIOR_SPREAD**2 + float(left @ left)) / (PRIOR_DAYS + count)),
        season_kwh=float(forecast[-SEASON_DAYS:].mean()),
        highest_kwh=_HEADROOM * float(actual.max()) if count >= PRIOR_DAYS else inf,
    )


def forecast_error(pairs: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """Return by how much of itself a forecast is off as a rule, and how far days are apart, as a share of the season's mean forecast."""
    learnt = learnt_errors(pairs)
    return learnt.factor - 1, learnt.spread


def _usual_ratio(forecast: Floats, actual: Floats, season: Floats) -> float:
    """Return actual / forecast of all days together, with less weight for days that are far off (Huber 1964, his M-estimator).

    A median of the days' own ratios lies too low: the forecasts that weigh most in it are, more often than not, those that were too high.
    """
    ratio = _median_ratio(forecast, actual)
    for _ in range(_ROUNDS):
        off = np.abs(actual - ratio * forecast) / season
        by_chance = max(_MAD * float(np.median(off)), _LEAST_OFF)
        weights = np.minimum(1.0, _HUBER * by_chance / np.maximum(off, 1e-9))
        ratio = float(weights @ actual / (weights @ forecast))
    return ratio


def _median_ratio(forecast: Floats, actual: Floats) -> float:
    """Return the median of actual / forecast, each day with the weight of its forecast."""
    some = forecast > 0
    ratios = actual[some] / forecast[some]
    order = np.argsort(ratios, kind="stable")
    reached = np.cumsum(forecast[some][order])
    return float(ratios[order][np.searchsorted(reached, reached[-1] / 2)])


def _season(forecast: Floats) -> Floats:
    """Return the mean of the forecasts around each."""
    around = np.ones(2 * SEASON_DAYS + 1)
    count = len(forecast)
    sums = np.convolve(forecast, around)[SEASON_DAYS : SEASON_DAYS + count]
    means: Floats = sums / np.convolve(np.ones(count), around)[SEASON_DAYS : SEASON_DAYS + count]
    return np.maximum(means, 1e-9)


def _since_jump(forecast: Floats, actual: Floats) -> int:
    """Return where the days begin that are like the last ones."""
    begin = 0
    for now in range(3 * JUMP_DAYS, len(forecast) + 1):
        earlier, last = slice(begin, now - JUMP_DAYS), slice(now - JUMP_DAYS, now)
        predicted, came = forecast[earlier].sum(), actual[earlier].sum()
        # Fewer days do not show what chance would be.
        if now - JUMP_DAYS - begin < 2 * JUMP_DAYS or predicted <= 0 or forecast[last].sum() <= 0:
            continue
        ratio = came / predicted
        by_chance = max(
            float(np.std(actual[earlier] - ratio * forecast[earlier])), _LEAST_SPREAD * came / (now - begin)
        )
        errors = actual[last] - ratio * forecast[last]
        one_way = (errors > 0).all() or (errors < 0).all()
        times = (actual[last].sum() + 1e-9) / (ratio * forecast[last].sum() + 1e-9)
        beyond = abs(float(errors.sum())) > JUMP_SPREADS * sqrt(JUMP_DAYS) * by_chance
        if one_way and beyond and abs(log(times)) > log(JUMP_RATIO):
            begin = now - JUMP_DAYS
    return begin
