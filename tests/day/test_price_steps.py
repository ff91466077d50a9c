"""Prices over the band, worked out by hand: an entity's, the tariff's where it has bands, and gaps where neither says anything."""

from datetime import UTC, datetime, time, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from homeassistant.core import HomeAssistant
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components.chargehand.core.planning import Band as TariffBand
from custom_components.chargehand.core.planning import DatedPrice, Tariff
from custom_components.chargehand.day.band import Band, band_at
from custom_components.chargehand.day.price_steps import known_prices
from tests.bench.remote import Bench
from tests.calls import device_id
from tests.conftest import AddInverter
from tests.day.conftest import OPTIONS
from tests.day.watching import Card

LONDON = ZoneInfo("Europe/London")
BAND = band_at(datetime(2026, 1, 14, 20, 10, tzinfo=UTC), LONDON)
NIGHT = Tariff(buy=0.31, sell=0.06, bands=(TariffBand(start=time(1), end=time(5), buy=0.11),))
FLAT = Tariff(buy=0.31, sell=0.06)


def at(day: int, hour: int, minute: int = 0) -> datetime:
    return datetime(2026, 1, day, hour, minute, tzinfo=UTC)


def dated(start: datetime, end: datetime, buy: float) -> DatedPrice:
    return DatedPrice(start=start, end=end, buy=buy, sell=0.1)


def rows(found: list[DatedPrice]) -> list[tuple[datetime, datetime, float]]:
    return [(one.start, one.end, round(one.buy, 6)) for one in found]


def test_an_entitys_prices_go_before_the_bands() -> None:
    given = [dated(at(14, 23), at(15, 2), 0.2), dated(at(15, 2), at(15, 3, 10), 0.15)]
    assert rows(known_prices(NIGHT, given, BAND, True)) == [
        (at(14, 12), at(14, 23), 0.31),
        (at(14, 23), at(15, 2), 0.2),
        (at(15, 2), at(15, 3, 10), 0.15),
        (at(15, 3, 10), at(15, 5), 0.11),
        (at(15, 5), at(16, 0), 0.31),
    ]


def test_without_bands_nothing_is_said_where_the_entity_says_nothing() -> None:
    given = [dated(at(14, 6), at(14, 13), 0.2), dated(at(14, 13), at(14, 14), 0.2), dated(at(15, 2), at(15, 3), 0.15)]
    assert rows(known_prices(FLAT, given, BAND, True)) == [
        (at(14, 12), at(14, 14), 0.2),
        (at(15, 2), at(15, 3), 0.15),
    ]


def test_a_price_that_is_always_the_same_is_one() -> None:
    assert rows(known_prices(FLAT, [], BAND, False)) == [(at(14, 12), at(16, 0), 0.31)]


@pytest.mark.parametrize(
    ("now", "cheap"),
    [
        # 01:00 to 05:00 by the clock of the house, which skips 01:00 to 02:00 in spring and shows it twice in autumn.
        (datetime(2026, 3, 28, 21, 30, tzinfo=UTC), (datetime(2026, 3, 29, 1, tzinfo=UTC), datetime(2026, 3, 29, 4, tzinfo=UTC))),
        (datetime(2026, 10, 24, 20, 30, tzinfo=UTC), (datetime(2026, 10, 25, 0, tzinfo=UTC), datetime(2026, 10, 25, 5, tzinfo=UTC))),
    ],
)  # fmt: skip
def test_a_band_of_a_night_in_which_the_clock_is_moved(now: datetime, cheap: tuple[datetime, datetime]) -> None:
    found = [
        (one.start, one.end)
        for one in known_prices(NIGHT, [], band_at(now, LONDON), False)
        if round(one.buy, 6) == 0.11
    ]
    assert found == [cheap]


def test_the_longest_band_is_covered() -> None:
    """Just after the midnight of an autumn day: eight hours, this day and one of 25 hours."""
    band: Band = band_at(datetime(2026, 10, 23, 23, 5, tzinfo=UTC), LONDON)
    assert band.end - band.start == timedelta(hours=8 + 24 + 25)
    found = known_prices(NIGHT, [], band, False)
    assert (found[0].start, found[-1].end) == (band.start, band.end)
    assert all(before.end == after.start for before, after in pairwise(found))


async def test_new_prices_are_pushed_at_once(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter, card: Card
) -> None:
    tariff = {"buy": 0.31, "price_sensor": "sensor.mill_prices"}
    added = await add_inverter(bench.port, **{**OPTIONS, "tariff": tariff})
    day = await card.watch(device_id(hass, added))
    assert day["prices"] == []
    # Nothing is polled any more that could bring them by the way.
    await hass.config_entries.async_unload(added.entry_id)
    await card.until(lambda day: not day["inverter"]["available"])
    row = {"start": at(15, 2).isoformat(), "end": at(15, 3).isoformat(), "buy": 0.15}
    hass.states.async_set("sensor.mill_prices", "0.2", {"prices": [row]})
    assert (await card.until(lambda day: day["prices"] != []))["prices"] == [
        {"start": at(15, 2).isoformat(), "end": at(15, 3).isoformat(), "buy": 0.15, "sell": 0.0}
    ]
    hass.states.async_set("sensor.mill_prices", "0.2", {"prices": [{"start": "never", "buy": 1}]})
    await card.until(lambda day: day["prices"] == [])


async def test_a_tariff_that_cannot_be_used_shows_no_prices(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter, card: Card
) -> None:
    bands = [{"start": "01:00", "end": "05:00", "buy": 0.1}, {"start": "04:00", "end": "06:00", "buy": 0.2}]
    added: MockConfigEntry = await add_inverter(bench.port, **{**OPTIONS, "tariff": {"buy": 0.3, "bands": bands}})
    assert (await card.watch(device_id(hass, added)))["prices"] == []
