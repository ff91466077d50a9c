"""What is learnt of a solar forecast: bounded, not moved by single days, begun anew after a jump, and errors in kWh."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from custom_components.chargehand.core.planning import Horizon, forecast_error, learnt_errors, solar_from_forecast
from tests.benchmarks.houses.course import course
from tests.benchmarks.houses.street import STREET

from .given import EVENING

HORIZON = Horizon(start=EVENING)

type Pairs = list[tuple[float, float]]


def days(count: int, times: float = 1.0, seed: int = 1) -> Pairs:
    """So many days of 2 to 18 kWh whose forecast is off by 2 kWh either way, and forecast so many times as much."""
    draw = np.random.default_rng(seed)
    actual = draw.uniform(2, 18, count)
    forecast = np.maximum(actual + draw.normal(0, 2, count), 0.5)
    return [(float(predicted * times), float(was)) for predicted, was in zip(forecast, actual, strict=True)]


def tomorrow(forecast_kwh: float, pairs: Pairs) -> np.ndarray:
    """What the scenarios give tomorrow of a forecast that is even from 08:00 to 16:00."""
    midnight = EVENING.replace(hour=0) + timedelta(days=1)
    predicted = {(midnight + timedelta(hours=at)).astimezone(UTC): forecast_kwh / 8 for at in range(8, 16)}
    found = solar_from_forecast(predicted, HORIZON, pairs=pairs)
    return np.sort(found.kwh[:, 8:56].sum(axis=1))


def test_forecast_that_is_a_third_too_high_is_put_right_and_the_more_so_the_longer_it_was() -> None:
    biases = [forecast_error(days(count, 1.5))[0] for count in (3, 15, 60)]
    assert biases[0] > biases[1] > biases[2]
    assert biases[2] == pytest.approx(60 / 70 * (1 / 1.5 - 1), abs=0.06)


@pytest.mark.parametrize(("times", "factor"), [(0.1, 3.0), (20.0, 1 / 3)])
def test_correction_is_bounded(times: float, factor: float) -> None:
    """A forecast of a tenth of the truth is one of something else: three times as much is all that is made of it."""
    bias, _ = forecast_error(days(60, times))
    assert bias == pytest.approx(60 / 70 * (factor - 1))


def test_days_of_a_broken_meter_do_not_move_the_correction() -> None:
    """Ten days in sixty on which nothing was counted."""
    pairs = days(60)
    broken = [(predicted, 0.0 if at % 6 == 0 else was) for at, (predicted, was) in enumerate(pairs)]
    assert forecast_error(broken)[0] == pytest.approx(forecast_error(pairs)[0], abs=0.06)


def test_forecast_that_is_right_on_average_is_not_corrected() -> None:
    """Its errors alone do not make it too high: the days of which it forecast most are those of which it forecast too much (regression to the mean)."""
    factors = [learnt_errors(days(60, seed=seed)).factor for seed in range(40)]
    assert np.mean(factors) == pytest.approx(1.0, abs=0.01)


def test_learning_begins_anew_when_a_forecast_is_put_right() -> None:
    """Sixty days of a tenth of the truth, and then the whole: within a week the old ones are forgotten."""
    wrong, right = days(60, 0.1), days(8, seed=2)
    assert learnt_errors(wrong).days == 60
    assert learnt_errors([*wrong, right[0]]).days == 60
    anew = learnt_errors([*wrong, *right])
    assert 7 <= anew.days <= 9
    assert abs(anew.factor - 1) < 0.15
    assert tomorrow(10.0, [*wrong, *right]).mean() == pytest.approx(10.0, rel=0.2)


def test_a_week_of_dull_days_is_no_jump() -> None:
    """They differ in what they bring, not in how it was forecast."""
    dull = [(predicted / 5, was / 5) for predicted, was in days(7, seed=3)]
    assert learnt_errors([*days(50), *dull]).days == 57


def test_dull_day_may_bring_as_much_more_as_a_bright_one_may_bring_less() -> None:
    """In kWh: a day forecast as 1 kWh in a season of 10 kWh a day is not 1 kWh give or take a third."""
    pairs = days(60)
    dull, bright = tomorrow(1.0, pairs), tomorrow(15.0, pairs)
    spread = learnt_errors(pairs).spread * learnt_errors(pairs).season_kwh
    assert 1.4 < spread < 3
    assert dull[-1] > 1.0 + 1.2 * spread
    assert dull[0] == 0.0
    # The brightest day there was, and a tenth, is not passed.
    assert bright[-1] <= 1.1 * max(was for _, was in pairs)
    assert bright[0] < 15.0 - 1.2 * spread


def test_far_off_forecasts_are_drawn_to_the_season_as_far_as_that_was_right() -> None:
    """Forecasts that show twice the difference from the season's mean, and some that show it rightly."""
    draw = np.random.default_rng(4)
    off = draw.uniform(-4, 4, 60)
    twice: Pairs = [(10 + 2 * each, 10 + each) for each in off]
    rightly: Pairs = [(10 + each, 10 + each) for each in off]
    assert tomorrow(14.0, twice).mean() < 12.9
    assert tomorrow(14.0, rightly).mean() == pytest.approx(14.0, abs=0.5)


def shares(pairs: Pairs, forecast_kwh: float) -> np.ndarray:
    """Scenarios whose errors are shares of the day's forecast, as they were drawn before; for comparison."""
    normal = np.array((-1.4652, -0.7916, -0.3661, 0.0, 0.3661, 0.7916, 1.4652))
    normal /= np.sqrt((normal**2).mean())
    least = 0.25 * np.mean([predicted for predicted, _ in pairs])
    errors = np.array([(was - predicted) / max(predicted, least) for predicted, was in pairs])
    count = 10 + len(errors)
    bias = errors.sum() / count
    return np.maximum(1 + bias + np.sqrt((0.9 + ((errors - bias) ** 2).sum()) / count) * normal, 0) * forecast_kwh


def test_errors_in_kwh_predict_days_better_than_errors_in_shares() -> None:
    """Continuous ranked probability score (Gneiting and Raftery 2007, from memory) of a house of the benchmark and of a measured roof.

    Measured over the year, as a share of the mean day: 0.23 by shares, 0.17 by kWh.
    """
    for at in (0, 12):
        over = course(STREET[at], 100 + at)
        scores = []
        for day in range(70, 420, 7):
            pairs = list(
                zip(
                    over.predicted[1, day - 60 : day - 1].tolist(),
                    over.actual[day - 60 : day - 1].tolist(),
                    strict=True,
                )
            )
            predicted, was = float(over.predicted[1, day]), over.actual[day]
            drawn = shares(pairs, predicted), learnt_errors(pairs).day(predicted, NORMAL)
            scores.append([np.abs(kwh - was).mean() - np.abs(kwh[:, np.newaxis] - kwh).mean() / 2 for kwh in drawn])
        by_shares, by_kwh = np.mean(scores, axis=0)
        assert by_kwh < 0.9 * by_shares


NORMAL = np.array((-1.4652, -0.7916, -0.3661, 0.0, 0.3661, 0.7916, 1.4652))


def test_days_are_whole_days_whenever_it_is_asked() -> None:
    """At 12:00 half of today is left: its scenarios are those of the whole day, as far as they are still to come."""
    noon = Horizon(start=datetime(2026, 6, 14, 12, tzinfo=EVENING.tzinfo))
    midnight = noon.start.replace(hour=0)
    predicted = {(midnight + timedelta(hours=at)).astimezone(UTC): 1.0 for at in range(8, 40) if 8 <= at % 24 < 16}
    found = solar_from_forecast(predicted, noon, pairs=days(60))
    today, next_day = found.kwh[:, :8].sum(axis=1), found.kwh[:, 24:72].sum(axis=1)
    assert np.sort(today) == pytest.approx(np.sort(next_day) / 2)
