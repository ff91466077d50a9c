"""Prices as other integrations list them: rows under any names, mappings, times of several kinds, and what cannot be read."""

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from homeassistant.core import HomeAssistant

from custom_components.chargehand.core.planning import DatedPrice
from custom_components.chargehand.house import PriceNames, known_until, listed_prices

MIDNIGHT = datetime(2026, 7, 10, tzinfo=UTC)
"""01:00 in London."""

NAMES = PriceNames()


@pytest.fixture(autouse=True)
async def _in_london(hass: HomeAssistant) -> None:
    await hass.config.async_set_time_zone("Europe/London")


def hour(at: float, buy: float, length: float = 1) -> DatedPrice:
    start = MIDNIGHT + timedelta(hours=at)
    return DatedPrice(start=start, end=start + timedelta(hours=length), buy=buy)


@pytest.mark.parametrize(
    "found",
    [
        [{"start": "2026-07-10T01:00", "buy": 0.2}, {"start": "2026-07-10T02:00", "buy": "0.3"}],
        [{"start": "2026-07-10T00:00:00Z", "buy": 0.2, "end": ""}, {"start": "2026-07-10T03:00:00+02:00", "buy": 0.3}],
        {"2026-07-10 01:00": 0.2, "2026-07-10 02:00": 0.3},
        {MIDNIGHT.replace(hour=1, tzinfo=None): 0.2, datetime(2026, 7, 10, 1, tzinfo=UTC): 0.3},
        [{"start": MIDNIGHT.timestamp() + 3600, "buy": 0.3}, {"start": MIDNIGHT.timestamp(), "buy": 0.2}],
        {str(int(MIDNIGHT.timestamp())): 0.2, str(int(MIDNIGHT.timestamp()) + 3600): 0.3},
    ],
    ids=["local text", "text with zones", "mapping", "mapping of moments", "seconds, unsorted", "mapping of seconds"],
)
async def test_times_of_all_kinds_are_read(found: Any) -> None:
    assert listed_prices(found, NAMES) == [hour(0, 0.2), hour(1, 0.3)]


async def test_other_names_a_factor_and_a_feed_in_price() -> None:
    names = PriceNames(start="from", end="to", buy="cents", factor=0.01)
    (one,) = listed_prices([{"from": "2026-07-10T01:00", "to": "2026-07-10T01:30", "cents": 25}], names, sell=0.06)
    assert (one.end - one.start, one.buy, one.sell) == (timedelta(minutes=30), pytest.approx(0.25), 0.06)


async def test_what_cannot_be_read_is_left_out_and_what_overlaps_too() -> None:
    found = [
        7,
        {"start": "soon", "buy": 1},
        {"start": "2026-02-30T01:00", "buy": 1},
        {"start": "2026-07-10T05:00"},
        {"start": "2026-07-10T06:00", "buy": None},
        {"start": "2026-07-10T06:00", "buy": True},
        {"start": "2026-07-10T06:00", "buy": "inf"},
        {"start": True, "buy": 1},
        {"start": "2026-07-10T01:00", "end": "2026-07-10T02:00", "buy": 0.2},
        {"start": "2026-07-10T01:30", "end": "2026-07-10T02:30", "buy": 0.9},
        {"start": "2026-07-10T02:00", "end": "2026-07-10T03:00", "buy": 0.3},
    ]
    assert listed_prices(found, NAMES) == [hour(0, 0.2), hour(1, 0.3)]


@pytest.mark.parametrize("found", [None, "", "0.25", 7, [], {}, [{"start": "2026-07-10T01:00", "buy": 0.2}]])
async def test_what_holds_no_prices_gives_none(found: Any) -> None:
    """The last is one entry that nothing says the length of."""
    assert listed_prices(found, NAMES) == []


async def test_prices_are_known_until_the_first_gap() -> None:
    prices = [hour(0, 0.2), hour(1, 0.3), hour(3, 0.4)]
    assert known_until(prices, MIDNIGHT + timedelta(minutes=20)) == MIDNIGHT + timedelta(hours=2)
    assert known_until(prices, MIDNIGHT + timedelta(hours=3.5)) == MIDNIGHT + timedelta(hours=4)
    for without in (MIDNIGHT - timedelta(minutes=1), MIDNIGHT + timedelta(hours=2)):
        assert known_until(prices, without) == without
