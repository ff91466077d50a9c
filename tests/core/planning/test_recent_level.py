"""What a house uses now beside what it used before: in scenarios of the load."""

from datetime import UTC, timedelta

import numpy as np
import pytest

from custom_components.chargehand.core.planning import Horizon, Hour, LeftOut, check_history, load_from_history

from .given import BERLIN, EVENING

HORIZON = Horizon(start=EVENING, hours=28)


def used(days: list[float]) -> list[Hour]:
    """So many kWh a day up to the evening's midnight, the same in every hour of a day."""
    first = (EVENING.replace(hour=0) - timedelta(days=len(days))).astimezone(UTC)
    return [(first + timedelta(hours=24 * at + hour), kwh / 24) for at, kwh in enumerate(days) for hour in range(24)]


def tomorrow(days: list[float]) -> float:
    """Expected kWh of tomorrow."""
    found = load_from_history(used(days), HORIZON)
    assert found is not None
    return float(found.expected[8:56].sum())


def differing(count: int, seed: int) -> list[float]:
    """Days of 12 kWh that differ by 28 %, each by itself."""
    return (12 * np.random.default_rng(seed).lognormal(0, 0.28, count)).tolist()


def test_new_tenant_is_believed_within_days() -> None:
    """Twice as much from one day to the next: two thirds of it after three days, nearly all after five."""
    before = differing(40, 1)
    usual = tomorrow(before)
    after = [tomorrow([*before, *[24.0] * days]) for days in (3, 5)]
    assert after[0] > usual + 0.6 * (24 - usual)
    assert after[1] == pytest.approx(24.0, rel=0.1)


def test_empty_house_and_the_return_home() -> None:
    before = differing(40, 2)
    away = [*before, *[2.4] * 10]
    assert tomorrow(away) < 4
    home = [*away, *[12.0] * 5]
    assert tomorrow(home) == pytest.approx(12.0, rel=0.15)


def test_days_that_differ_as_they_always_did_hardly_count() -> None:
    """Three days in a row that are 20 % above the mean are nothing strange where days differ by 28 %."""
    moved = []
    for seed in range(12):
        before = differing(50, seed)
        moved.append(tomorrow([*before, *[14.4] * 3]) - tomorrow([*before, *[12.0] * 3]))
    assert 0.2 < np.mean(moved) / 2.4 < 0.6


def test_history_of_one_week_needs_no_level() -> None:
    assert tomorrow([12.0] * 7) == pytest.approx(12.0)


def test_shapes_of_earlier_days_are_kept() -> None:
    """Only how much is scaled, not when: the evening's share of each day stays."""
    first = (EVENING.replace(hour=0) - timedelta(days=30)).astimezone(UTC)
    hours = [
        (at, (2.0 if at.astimezone(BERLIN).hour == 19 else 0.2) * (2 if day >= 25 else 1))
        for day in range(30)
        for at in (first + timedelta(hours=24 * day + hour) for hour in range(24))
    ]
    found = load_from_history(hours, HORIZON)
    assert found is not None
    for course in found.kwh[:, 8:56]:
        assert course[38:40].sum() / course.sum() == pytest.approx(2.0 / (2.0 + 23 * 0.2))


@pytest.mark.parametrize("kilowatts", [11.0, 22.0])
def test_car_in_a_small_house_is_not_absurd(kilowatts: float) -> None:
    """A house of 0.25 kWh an hour; chargers for cars take 11 kW on three phases, some 22 kW (IEC 61851-1 mode 3, 16 and 32 A, from memory)."""
    hours = used([6.0] * 20)
    hours[100] = (hours[100][0], kilowatts + 0.25)
    assert check_history(hours, BERLIN).left_out == LeftOut()
    hours[100] = (hours[100][0], 400.0)
    assert check_history(hours, BERLIN).left_out == LeftOut(absurd=1)


def test_level_is_that_of_the_days_before_now() -> None:
    """Not of a year ago: a house that used ten times as much then is the same house."""
    year_ago = [120.0] * 100
    assert tomorrow([*year_ago, *[12.0] * 70]) == pytest.approx(12.0, rel=0.05)
