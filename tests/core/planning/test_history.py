"""Forecasts learnt from history: what cannot be true is left out and counted, and like days weigh more."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from custom_components.chargehand.core.planning import (
    BadForecast,
    Horizon,
    Hour,
    LeftOut,
    check_history,
    load_from_history,
    solar_from_history,
)

from .given import BERLIN, EVENING

FIRST = datetime(2025, 12, 17, tzinfo=BERLIN)


def history(days: int, kwh: float = 0.5, first: datetime = FIRST) -> list[Hour]:
    """So many days of the same."""
    begun = first.astimezone(UTC)
    return [(begun + timedelta(hours=at), kwh) for at in range(24 * days)]


def test_what_cannot_be_true_is_left_out_and_counted() -> None:
    hours = history(10)
    for at, kwh in {5: None, 30: float("nan"), 31: -4000.0, 60: 900.0, 61: float("inf")}.items():
        hours[at] = (hours[at][0], kwh)
    checked = check_history(hours, BERLIN)
    assert checked.left_out == LeftOut(missing=3, reset=1, absurd=1)
    assert (checked.days, checked.filled) == (10, 5)
    found = load_from_history(hours, Horizon(start=EVENING))
    assert found is not None
    assert found.kwh == pytest.approx(0.25)
    assert (found.days, found.filled, found.left_out.absurd) == (10, 5, 1)


def test_car_charger_is_not_absurd() -> None:
    hours = history(10)
    hours[20] = (hours[20][0], 7.4)
    assert check_history(hours, BERLIN).left_out == LeftOut()


def test_day_with_fewer_than_20_known_hours_is_not_used() -> None:
    hours = history(8)
    assert check_history(hours[5:], BERLIN).days == 7
    assert check_history(hours[4:], BERLIN).days == 8


@pytest.mark.parametrize("hours", [[], history(6), [(at, None) for at, _ in history(20)]])
def test_too_little_history_is_said(hours: list[Hour]) -> None:
    horizon = Horizon(start=EVENING)
    assert load_from_history(hours, horizon) is None
    assert solar_from_history(hours, horizon) is None


def test_hour_told_twice_counts_as_told_last() -> None:
    hours = [*history(8), (FIRST, 3.0)]
    assert check_history(hours, BERLIN).kwh[0, 0] == pytest.approx(3.0)


def test_hour_that_the_clock_shows_twice_is_the_mean_of_both() -> None:
    """2026-10-25 has 02:00 twice in Berlin (Directive 2000/84/EC)."""
    hours = history(8, first=datetime(2026, 10, 20, tzinfo=BERLIN))
    again = datetime(2026, 10, 25, 1, tzinfo=UTC)
    hours = [(at, 1.5 if at == again else kwh) for at, kwh in hours]
    checked = check_history(hours, BERLIN)
    assert checked.kwh[5, 2] == pytest.approx(1.0)


def test_naive_time_in_a_history_is_refused() -> None:
    with pytest.raises(BadForecast, match="no time zone"):
        check_history([(datetime(2026, 1, 1), 0.3)], BERLIN)  # noqa: DTZ001 - the mistake


def test_hour_that_no_day_knows_is_like_the_others() -> None:
    hours = [(at, None if at.astimezone(BERLIN).hour == 3 else kwh) for at, kwh in history(9)]
    found = load_from_history(hours, Horizon(start=EVENING))
    assert found is not None
    assert found.kwh == pytest.approx(0.25)


def test_weekend_looks_like_weekends() -> None:
    hours = [(at, 1.0 if at.astimezone(BERLIN).weekday() >= 5 else 0.5) for at, _ in history(28)]
    workday = load_from_history(hours, Horizon(start=EVENING, hours=24))
    weekend = load_from_history(hours, Horizon(start=datetime(2026, 1, 16, 20, tzinfo=BERLIN), hours=24))
    assert workday is not None
    assert weekend is not None
    assert workday.expected.sum() < 14.5 < 18 < weekend.expected.sum()


def test_recent_days_weigh_more() -> None:
    hours = [(at, 0.5 if at < datetime(2026, 1, 1, tzinfo=UTC) else 1.0) for at, _ in history(28)]
    found = load_from_history(hours, Horizon(start=EVENING, hours=24))
    assert found is not None
    assert found.expected.sum() > 24 * (0.5 + 1.0) / 2


def test_days_as_cold_as_the_coming_one_weigh_more() -> None:
    """Cold and mild days by turns; the coming day is cold, a day without a temperature counts for half, bad ones do not count."""
    cold = {at: at.astimezone(BERLIN).day % 2 == 0 for at, _ in history(40)}
    outdoor = {at: -5.0 if is_cold else 8.0 for at, is_cold in cold.items()}
    hours = [(at, 1.0 if cold[at] else 0.5) for at, _ in history(28)]
    outdoor[hours[0][0]] = float("nan")
    for at in range(24, 48):
        del outdoor[hours[at][0]]
    horizon = Horizon(start=datetime(2026, 1, 13, 23, tzinfo=BERLIN), hours=24)
    with_it, without = (
        load_from_history(hours, horizon, outdoor=outdoor),
        load_from_history(hours, horizon),
    )
    assert with_it is not None
    assert without is not None
    there = np.array([start.day == 14 for start in horizon.starts])
    assert with_it.expected[there].mean() > 0.45 > without.expected[there].mean()
    mild = {at: -30.0 for at in outdoor if at > hours[-1][0]}
    far = load_from_history(hours, horizon, outdoor=outdoor | mild)
    assert far is not None
    assert np.isfinite(far.weights).all()


def test_day_whose_night_alone_has_a_temperature_is_one_without() -> None:
    """A thermometer that was off by day; the coming night is as cold as those were."""
    hours = [(at, 1.0 if at.astimezone(BERLIN).day % 2 else 0.5) for at, _ in history(28)]
    cold = {at: -5.0 for at, _ in history(40) if at.astimezone(BERLIN).day % 2 or at > hours[-1][0]}
    nights = {at: -5.0 for at, _ in hours if at not in cold and at.astimezone(BERLIN).hour < 6}
    horizon = Horizon(start=datetime(2026, 1, 13, 23, tzinfo=BERLIN), hours=24)
    nothing, nights_alone = (load_from_history(hours, horizon, outdoor=known) for known in (cold, cold | nights))
    assert nothing is not None
    assert nights_alone is not None
    assert nights_alone.expected == pytest.approx(nothing.expected)


def test_season_looks_like_the_same_season_a_year_ago() -> None:
    begun = datetime(2025, 1, 1, tzinfo=BERLIN).astimezone(UTC)
    hours = [
        (at, 2.0 if at.month in {6, 7} else 0.2) for at in (begun + timedelta(hours=count) for count in range(24 * 365))
    ]
    summer = solar_from_history(hours, Horizon(start=datetime(2026, 6, 30, 20, tzinfo=BERLIN), hours=24))
    winter = solar_from_history(hours, Horizon(start=EVENING, hours=24))
    assert summer is not None
    assert winter is not None
    assert summer.expected.sum() == pytest.approx(48.0)
    assert winter.expected.sum() == pytest.approx(4.8)
    assert len(summer.weights) == 30
    assert summer.days == 365
