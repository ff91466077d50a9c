"""Solar forecasts, fixed amounts, and load and solar taken together."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from custom_components.chargehand.core.planning import (
    BadForecast,
    Forecast,
    Horizon,
    Prices,
    Scenarios,
    forecast_error,
    given_load,
    given_solar,
    joint,
    make_plan,
    no_solar,
    solar_from_forecast,
)

from .given import BATTERY, BERLIN, EVENING, night_prices

HORIZON = Horizon(start=EVENING)


def _forecast(hours: int = 36, kwh: float = 1.0) -> dict[datetime, float]:
    return {EVENING.astimezone(UTC) + timedelta(hours=at): kwh for at in range(hours)}


def test_given_amounts_are_met_over_a_day() -> None:
    day = Horizon(start=EVENING.replace(hour=0), hours=24)
    assert given_load(11.0, day).kwh.sum() == pytest.approx(11.0)
    assert given_solar(7.0, day).kwh.sum() == pytest.approx(7.0)
    assert no_solar(day).kwh.sum() == 0


def test_length_of_the_solar_day() -> None:
    """At 50 degrees the sun is up 8 h on 21 December and 16 h 20 min on 21 June (handbook of astronomy, from memory; refraction apart)."""
    for month, least, most in ((12, 7.5, 8.5), (6, 15.5, 16.5)):
        horizon = Horizon(start=datetime(2026, month, 21, tzinfo=UTC), hours=24)
        up = float((given_solar(10.0, horizon).kwh[0] > 0).sum() / 2)
        assert least <= up <= most


def test_no_sun_in_the_polar_night() -> None:
    horizon = Horizon(start=datetime(2026, 12, 21, tzinfo=UTC), hours=24)
    assert given_solar(10.0, horizon, latitude=80).kwh.sum() == 0


def test_forecast_without_experience_spreads_as_the_prior() -> None:
    found = solar_from_forecast(_forecast(), HORIZON)
    day = found.kwh[:, :8].sum(axis=1)
    assert day.mean() == pytest.approx(4.0)
    assert day.std() / day.mean() == pytest.approx(0.30)


def test_spread_follows_the_errors_that_were() -> None:
    day_of_10 = _forecast(kwh=10 / 24)
    good = solar_from_forecast(day_of_10, HORIZON, pairs=[(10.0, 10.1), (10.0, 9.9)] * 30)
    bad = solar_from_forecast(day_of_10, HORIZON, pairs=[(10.0, 16.0), (10.0, 4.0)] * 30)
    spreads = [float(one.kwh[:, 0].std() / one.kwh[:, 0].mean()) for one in (good, bad)]
    assert spreads[0] < 0.15 < 0.45 < spreads[1]


def test_forecast_error_by_hand() -> None:
    """Ten pairs of 10 forecast and 8 come: bias -2 / 20; square (10 x 0.09 + 10 x (-0.2 + 0.1)^2) / 20."""
    bias, spread = forecast_error([(10.0, 8.0)] * 10)
    assert bias == pytest.approx(-0.1)
    assert spread == pytest.approx(((0.9 + 0.1) / 20) ** 0.5)


@pytest.mark.parametrize("pairs", [[], [(float("nan"), 1.0), (1.0, -3.0), (float("inf"), 2.0)], [(0.0, 0.0)]])
def test_pairs_that_tell_nothing_leave_the_prior(pairs: list[tuple[float, float]]) -> None:
    assert forecast_error(pairs) == (0.0, 0.30)


def test_missing_hours_of_a_forecast_are_those_of_the_day_before() -> None:
    forecast = _forecast(24) | {EVENING: 3.0}
    found = solar_from_forecast(forecast, HORIZON)
    assert found.expected[48] == pytest.approx(found.expected[0])
    assert found.expected[48] == pytest.approx(1.5)
    assert solar_from_forecast({}, HORIZON).kwh.sum() == 0


def test_independent_pairs_keep_both_means() -> None:
    load = Forecast(weights=np.array([0.25, 0.75]), kwh=np.array([[1.0] * 72, [2.0] * 72]))
    solar = Forecast(weights=np.full(3, 1 / 3), kwh=np.outer([0.0, 1.0, 2.0], np.ones(72)))
    both = joint(load, solar)
    assert len(both.weights) == 6
    assert both.weights @ both.load == pytest.approx(1.75)
    assert both.weights @ both.solar == pytest.approx(1.0)


def test_many_pairs_are_bounded_even_and_the_same_each_time() -> None:
    rng = np.random.default_rng(4)
    load = Forecast(weights=np.full(30, 1 / 30), kwh=rng.uniform(0, 1, (30, 72)))
    solar = Forecast(weights=np.full(7, 1 / 7), kwh=rng.uniform(0, 1, (7, 72)))
    both, again = joint(load, solar), joint(load, solar)
    assert len(both.weights) == 40
    assert (both.load == again.load).all()
    assert both.weights @ both.load.sum(axis=1) == pytest.approx(load.expected.sum(), rel=0.02)
    assert both.weights @ both.solar.sum(axis=1) == pytest.approx(solar.expected.sum(), rel=0.02)


def _ones(*shape: int) -> Forecast:
    return Forecast(weights=np.ones(1), kwh=np.ones(shape))


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda: given_load(-1.0, HORIZON), "negative"),
        (lambda: given_load(float("nan"), HORIZON), "no number"),
        (lambda: given_solar(3.0, HORIZON, latitude=91), "latitude"),
        (lambda: solar_from_forecast({EVENING: -1.0}, HORIZON), "give 0 or more"),
        (lambda: solar_from_forecast({datetime(2026, 1, 1): 1.0}, HORIZON), "aware"),  # noqa: DTZ001 - the mistake
        (lambda: joint(_ones(1, 72), _ones(1, 48)), "different horizons"),
        (lambda: joint(_ones(1, 72), _ones(1, 72), most=0), "allow one"),
    ],
)
def test_what_is_no_forecast(make: Callable[[], object], says: str) -> None:
    with pytest.raises(BadForecast, match=says):
        make()


@pytest.mark.parametrize(
    ("weight", "load", "steps", "says"),
    [
        (1.0, 1.0, 48, "make them for it"),
        (1.0, -1.0, 72, "negative"),
        (1.0, float("nan"), 72, "negative energy or none"),
        (0.5, 1.0, 72, "do not make 1"),
    ],
)
def test_scenarios_that_cannot_be_planned_for(weight: float, load: float, steps: int, says: str) -> None:
    prices: Prices = night_prices(HORIZON)
    scenarios = Scenarios(weights=np.array([weight]), load=np.full((1, steps), load), solar=np.zeros((1, steps)))
    with pytest.raises(BadForecast, match=says):
        make_plan(BATTERY, 50, prices, scenarios)


def test_horizon_over_a_day_of_25_hours_has_its_forecast() -> None:
    start = datetime(2026, 10, 24, 20, tzinfo=BERLIN)
    forecast = {start.astimezone(UTC) + timedelta(hours=at): float(at) for at in range(36)}
    found = solar_from_forecast(forecast, Horizon(start=start))
    assert found.expected == pytest.approx(np.repeat(np.arange(36.0), 2) / 2)
