"""Prices of the steps of a horizon, over both changes of the clock, and tariffs that are none."""

from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from custom_components.chargehand.core.planning import (
    BadHorizon,
    BadTariff,
    Band,
    DatedPrice,
    Days,
    Horizon,
    Keeps,
    PriceGap,
    Tariff,
    dated_over_tariff,
    dated_prices,
    tariff_prices,
)

from .given import BERLIN, EVENING, NIGHT_RATE, OVER_MIDNIGHT

# Summer time in the European Union begins on the last Sunday of March and ends on the last Sunday of October, at 01:00 UTC
# (Directive 2000/84/EC, articles 2 and 3).
SPRING = datetime(2026, 3, 29, tzinfo=BERLIN)
AUTUMN = datetime(2026, 10, 25, tzinfo=BERLIN)


def _cheap_hours(day: datetime, tariff: Tariff) -> float:
    """Hours of the cheap rate from a local midnight to the next."""
    horizon = Horizon(start=day, hours=36)
    prices = tariff_prices(tariff, horizon)
    there = np.array([start.date() == day.date() for start in horizon.starts])
    return float(np.isclose(prices.buy[there], 0.11).sum() / 2)


@pytest.mark.parametrize(("day", "steps"), [(SPRING, 46), (AUTUMN, 50), (datetime(2026, 6, 1, tzinfo=BERLIN), 48)])
def test_day_of_23_and_of_25_hours(day: datetime, steps: int) -> None:
    horizon = Horizon(start=day, hours=36)
    assert horizon.first_day == steps
    assert sum(start.date() == day.date() for start in horizon.starts) == steps
    assert horizon.end - horizon.starts[0].astimezone(UTC) == timedelta(hours=36)


@pytest.mark.parametrize(("day", "local", "standard"), [(SPRING, 3.0, 3.5), (AUTUMN, 5.0, 4.5)])
def test_cheap_hours_when_clocks_are_moved(day: datetime, local: float, standard: float) -> None:
    """Of 23:15-03:45 the half hours that are cheap as a whole: 3.5 h after midnight and one of them before the next; by local clocks an
    hour less or more where they are moved.

    Kept in standard time it is 00:00-03:30 and, with midnight an hour early, no more in spring; in autumn 23:30-03:30 and 23:30-24:00.
    """
    kept = Tariff(bands=OVER_MIDNIGHT.bands, buy=0.31, keeps=Keeps.STANDARD)
    assert (_cheap_hours(day, OVER_MIDNIGHT), _cheap_hours(day, kept)) == (local, standard)


def test_standard_time_is_an_hour_later_on_summer_clocks() -> None:
    horizon = Horizon(start=datetime(2026, 7, 1, tzinfo=BERLIN), hours=24)
    prices = tariff_prices(Tariff(bands=NIGHT_RATE.bands, buy=0.31, keeps=Keeps.STANDARD), horizon)
    cheap = {start.time() for start, buy in zip(horizon.starts, prices.buy, strict=True) if buy < 0.2}
    assert min(cheap) == time(2)
    assert max(cheap) == time(5, 30)


def test_southern_standard_time_is_winter_time() -> None:
    zone = ZoneInfo("Australia/Sydney")
    tariff = Tariff(bands=(Band(start=120, end=180, buy=0.1),), buy=0.3, keeps=Keeps.STANDARD)
    horizon = Horizon(start=datetime(2026, 1, 10, tzinfo=zone), hours=24)
    cheap = [
        start.time() for start, buy in zip(horizon.starts, tariff_prices(tariff, horizon).buy, strict=True) if buy < 0.2
    ]
    assert cheap == [time(3), time(3, 30)]


def test_weekend_and_workday_bands_begin_on_their_days() -> None:
    """A band over midnight belongs to the day it begins on: Sunday's runs into Monday."""
    tariff = Tariff(
        bands=(
            Band(start=time(22), end=time(6), buy=0.1, days=Days.WEEKEND),
            Band(start=time(22), end=time(2), buy=0.2, days=Days.WORKDAYS),
        ),
        buy=0.3,
    )
    horizon = Horizon(start=datetime(2026, 1, 18, 12, tzinfo=BERLIN), hours=48)
    prices = tariff_prices(tariff, horizon)
    at = {start: float(buy) for start, buy in zip(horizon.starts, prices.buy, strict=True)}
    assert at[datetime(2026, 1, 19, 5, 30, tzinfo=BERLIN)] == pytest.approx(0.1)
    assert at[datetime(2026, 1, 20, 1, 30, tzinfo=BERLIN)] == pytest.approx(0.2)
    assert at[datetime(2026, 1, 20, 2, 0, tzinfo=BERLIN)] == pytest.approx(0.3)


def test_step_shared_by_two_prices_has_the_mean_of_its_minutes() -> None:
    tariff = Tariff(bands=(Band(start=time(21, 10), end=time(23), buy=0.1),), buy=0.4)
    prices = tariff_prices(tariff, Horizon(start=EVENING))
    assert prices.buy[2] == pytest.approx((10 * 0.4 + 20 * 0.1) / 30)


@pytest.mark.parametrize(
    ("tariff", "says"),
    [
        (Tariff(bands=(Band(start=60, end=60, buy=0.1),), buy=0.3), "from 01:00 to 01:00 .* give two times"),
        (Tariff(bands=(Band(start=60, end=1500, buy=0.1),), buy=0.3), "give two times"),
        (
            Tariff(bands=(Band(start=0, end=120, buy=0.1), Band(start=90, end=180, buy=0.2)), buy=0.3),
            "overlaps",
        ),
        (Tariff(buy=float("nan")), "not a number"),
        (Tariff(bands=(Band(start=0, end=9, buy=float("inf")),), buy=0.3), "not a number"),
    ],
)
def test_what_is_no_tariff(tariff: Tariff, says: str) -> None:
    with pytest.raises(BadTariff, match=says):
        tariff_prices(tariff, Horizon(start=EVENING))


def _rows(hours: range, buy: float = 0.2) -> list[DatedPrice]:
    first = EVENING.astimezone(UTC)
    return [
        DatedPrice(
            start=first + timedelta(hours=at), end=first + timedelta(hours=at + 1), buy=buy + at / 100, sell=0.05
        )
        for at in hours
    ]


def test_dated_prices_in_any_order() -> None:
    prices = dated_prices(_rows(range(-2, 40))[::-1], Horizon(start=EVENING))
    assert prices.buy[:3] == pytest.approx([0.2, 0.2, 0.21])
    assert prices.sell == pytest.approx(0.05)


def test_dated_prices_of_the_hour_that_comes_twice() -> None:
    """A price for each half hour of the 25 hours, stated in local time: 02:00 to 03:00 has four."""
    horizon = Horizon(start=AUTUMN, hours=25)
    rows = [
        DatedPrice(start=horizon.at(step), end=horizon.at(step + 1), buy=float(step)) for step in range(horizon.steps)
    ]
    assert dated_prices(rows[::-1], horizon).buy == pytest.approx(np.arange(50.0))


@pytest.mark.parametrize(
    ("rows", "first", "last"),
    [
        (_rows(range(10)) + _rows(range(12, 40)), 10, 12),
        (_rows(range(30)), 30, 36),
        ([], 0, 36),
    ],
)
def test_gap_in_dated_prices_is_named(rows: list[DatedPrice], first: int, last: int) -> None:
    with pytest.raises(PriceGap, match="give prices that cover") as caught:
        dated_prices(rows, Horizon(start=EVENING))
    assert caught.value.start == EVENING + timedelta(hours=first)
    assert caught.value.end == EVENING + timedelta(hours=last)


@pytest.mark.parametrize(
    ("rows", "says"),
    [
        (_rows(range(40)) + _rows(range(5, 6)), "two prices"),
        ([DatedPrice(start=EVENING, end=EVENING, buy=0.2)], "swap its times"),
        ([DatedPrice(start=datetime(2026, 1, 14), end=EVENING, buy=0.2)], "no time zone"),  # noqa: DTZ001 - the mistake
        ([DatedPrice(start=EVENING, end=EVENING + timedelta(hours=36), buy=float("nan"))], "not a number"),
    ],
)
def test_dated_prices_that_are_none(rows: list[DatedPrice], says: str) -> None:
    with pytest.raises(BadTariff, match=says):
        dated_prices(rows, Horizon(start=EVENING))


@pytest.mark.parametrize(
    ("start", "hours", "step", "says"),
    [
        (datetime(2026, 1, 14), 36, 30, "no time zone"),  # noqa: DTZ001 - the mistake
        (EVENING, 23, 30, "24 to 48"),
        (EVENING, 36, 45, "step of 45"),
    ],
)
def test_what_is_no_horizon(start: datetime, hours: float, step: int, says: str) -> None:
    with pytest.raises(BadHorizon, match=says):
        Horizon(start=start, hours=hours, step_minutes=step)


def test_start_is_put_back_to_a_whole_step() -> None:
    horizon = Horizon(start=EVENING + timedelta(minutes=44, seconds=3))
    assert horizon.starts[0] == EVENING + timedelta(minutes=30)


def test_hours_without_a_price_are_as_the_day_before_where_the_tariff_has_no_bands() -> None:
    """Prices are known to the midnight after next: the night after it is like the last one, not like the tariff's one price."""
    horizon = Horizon(start=EVENING, hours=48)
    prices, hours = dated_over_tariff(_rows(range(28)), Tariff(buy=0.9, sell=0.01), horizon)
    assert hours == 28
    assert prices.buy[56:96] == pytest.approx(prices.buy[8:48])
    assert prices.sell == pytest.approx(0.05)
    # A list that reaches back knows the hours of yesterday, too.
    back, hours = dated_over_tariff(_rows(range(-24, 4)), Tariff(buy=0.9), Horizon(start=EVENING, hours=24))
    assert hours == 4
    assert back.buy[8:] == pytest.approx(np.repeat([0.2 + at / 100 for at in range(-20, 0)], 2))
    # Where not even that is known, the tariff has to do.
    assert dated_over_tariff(_rows(range(4)), Tariff(buy=0.9), horizon)[0].buy[8:48] == pytest.approx(0.9)


def test_bands_hold_for_hours_without_a_price() -> None:
    """A tariff that says what is usual at each time of the day knows it better than one day."""
    prices, hours = dated_over_tariff(_rows(range(28)), NIGHT_RATE, Horizon(start=EVENING, hours=48))
    assert hours == 28
    assert prices.buy[56:] == pytest.approx(tariff_prices(NIGHT_RATE, Horizon(start=EVENING, hours=48)).buy[56:])
