"""The windows for a charge before expensive hours: how many there are by the clock, what they cover, and how long is charged."""

import itertools
import random
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from custom_components.chargehand.core.planning import DatedPrice, WindowRoom
from custom_components.chargehand.nights import BeforeNeed, before_runs, before_windows, target_level

ZONE = ZoneInfo("Europe/Vienna")
NOW = datetime(2026, 1, 10, 18, 0, tzinfo=UTC)
BEGINS = datetime(2026, 1, 11, 16, 0, tzinfo=UTC)
MIDNIGHT = datetime(2026, 1, 10, 23, 0, tzinfo=UTC)
"""In Vienna."""


def need(level: float = 20, *, target: int = 80, hold: bool = False, draws_kw: float = 0) -> BeforeNeed:
    return BeforeNeed(
        target=target, reserve=10, level=level, capacity_kwh=10, charge_kw=3, draws_kw=draws_kw, hold=hold
    )


def hours(*prices: float) -> list[DatedPrice]:
    """Hourly prices from 19:00 in Vienna on."""
    return [
        DatedPrice(start=NOW + timedelta(hours=at), end=NOW + timedelta(hours=at + 1), buy=price)
        for at, price in enumerate(prices)
    ]


def places_taken(windows: list[dict[str, str]]) -> int:
    """Windows of an inverter on which one over midnight takes two: "00:00" as an end is the midnight itself."""
    return sum(2 if one["end"] < one["start"] and one["end"] != "00:00" else 1 for one in windows)


@pytest.mark.parametrize("seed", range(150))
def test_there_are_never_more_windows_than_places(seed: int) -> None:
    chance = random.Random(seed)
    prices = hours(*(chance.choice([0.1, 0.2, 0.3]) for _ in range(22)))
    wanted, places = need(chance.choice([10, 40, 79]), hold=chance.random() < 0.5), chance.randint(2, 5)
    room = WindowRoom(windows=places, rests=wanted.hold, midnight=MIDNIGHT)
    windows = before_windows(wanted, before_runs(wanted, prices, BEGINS, NOW, room), BEGINS, ZONE)
    assert 1 <= places_taken(windows) <= places
    if wanted.hold:
        assert windows[-1]["end"] == "17:00"
        for before, after in itertools.pairwise(windows):
            assert before["end"] == after["start"], "it rests in between"


def test_where_a_window_over_midnight_takes_two_one_place_is_used_on_one_side() -> None:
    prices = hours(*[0.4] * 4, 0.1, 0.1, 0.2, 0.2, *[0.4] * 14)
    wanted = need(40)
    # 4 kWh at 3 kW and a tenth more: 88 minutes.
    both = before_runs(wanted, prices, BEGINS, NOW, WindowRoom(windows=1))
    one_side = before_runs(wanted, prices, BEGINS, NOW, WindowRoom(windows=1, midnight=MIDNIGHT))
    assert [(one["start"], one["end"]) for one in before_windows(wanted, both, BEGINS, ZONE)] == [("23:00", "01:00")]
    assert [(one["start"], one["end"]) for one in before_windows(wanted, one_side, BEGINS, ZONE)] == [
        ("00:00", "02:00")
    ]


def test_a_price_over_midnight_may_be_used_on_one_side_of_it() -> None:
    """Half past eleven to half past twelve is the cheapest, and one place would have to be two for all of it."""
    half = NOW + timedelta(minutes=30)
    prices = [
        DatedPrice(start=NOW, end=half, buy=0.4),
        *(
            DatedPrice(
                start=half + timedelta(hours=at), end=half + timedelta(hours=at + 1), buy=0.1 if at == 4 else 0.4
            )
            for at in range(22)
        ),
    ]
    # 1 kWh: 22 minutes.
    runs = before_runs(need(70), prices, BEGINS, NOW, WindowRoom(windows=1, midnight=MIDNIGHT))
    (window,) = before_windows(need(70), runs, BEGINS, ZONE)
    assert (window["start"], window["end"]) == ("00:00", "00:30")


def test_what_the_house_draws_until_the_cheapest_time_is_charged_too() -> None:
    prices = hours(*[0.4] * 10, *[0.1] * 12)
    # 1 kWh takes 22 minutes with the margin; 0.5 kW for the 21 hours until the latest cheap one, 10.5 kWh, 231 more.
    for draws_kw, chosen in ((0, ("16:00", "17:00")), (0.5, ("12:00", "17:00"))):
        wanted = need(70, draws_kw=draws_kw)
        runs = before_runs(wanted, prices, BEGINS, NOW, WindowRoom(windows=3))
        (window,) = before_windows(wanted, runs, BEGINS, ZONE)
        assert (window["start"], window["end"]) == chosen


def test_a_window_does_not_last_a_whole_day() -> None:
    long = [DatedPrice(start=BEGINS - timedelta(hours=40), end=BEGINS, buy=0.2)]
    runs = before_runs(need(), long, BEGINS, NOW, WindowRoom(windows=3))
    (window,) = before_windows(need(), runs, BEGINS, ZONE)
    assert (window["start"], window["end"]) == ("19:00", "17:00")


@pytest.mark.parametrize(
    ("given", "energy", "level"), [(90, False, 90), (250, False, 100), (5, True, 65), (5.01, True, 66), (60, True, 100)]
)
def test_a_need_is_a_level_or_an_energy_above_the_reserve(given: float, energy: bool, level: int) -> None:
    assert target_level(given, energy=energy, reserve=15, capacity_kwh=10) == level
