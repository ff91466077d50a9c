"""Prices from an entity: what its lists may look like, what goes before what, and every way in which they cannot be read."""

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from homeassistant.core import HomeAssistant
from homeassistant.exceptions import ServiceValidationError
from homeassistant.util import dt as dt_util
from pytest_homeassistant_custom_component.common import MockConfigEntry

from tests.actions.test_plan_charge import BATTERY, TARIFF, plan
from tests.bench.remote import Bench
from tests.conftest import AddInverter
from tests.moved_time import HouseTime

PRICES = "sensor.mill_prices"
ASKED = {"load_kwh": 9, "solar_kwh": 0}


@pytest.fixture(autouse=True)
def standing(monkeypatch: pytest.MonkeyPatch) -> HouseTime:
    """No hour begins between what a test publishes and what it expects of a plan."""
    return HouseTime(monkeypatch, datetime.now(UTC))


@pytest.fixture
async def priced(hass: HomeAssistant, bench: Bench, add_inverter: AddInverter) -> MockConfigEntry:
    """An entry whose tariff names an entity."""
    await bench.battery(level=20)
    return await add_inverter(bench.port, battery=BATTERY, tariff=TARIFF | {"price_sensor": PRICES})


def name(hass: HomeAssistant, entry: MockConfigEntry, **names: Any) -> None:
    """Fill in what the entity's lists and keys are called."""
    options = {**entry.options, "tariff": {**entry.options["tariff"], "price_names": names}}
    hass.config_entries.async_update_entry(entry, options=options)


def price(hour: int) -> float:
    """Expensive but for a few hours of two days, and each hour's own, so that none can stand for another."""
    return (0.10 if hour % 24 in {5, 6, 7} else 0.40) + hour / 1000


def this_hour() -> datetime:
    return dt_util.now().replace(minute=0, second=0, microsecond=0)


def later(hours: float) -> datetime:
    return dt_util.as_local(dt_util.as_utc(this_hour()) + timedelta(hours=hours))


def rows(hours: int = 48, first: int = 0, **also: Any) -> list[dict[str, Any]]:
    return [
        {"start": later(hour).isoformat(), "end": later(hour + 1).isoformat(), "buy": price(hour), **also}
        for hour in range(first, hours)
    ]


def publish(hass: HomeAssistant, listed: Any, attribute: str = "prices", **also: Any) -> None:
    hass.states.async_set(PRICES, "0.2", {"unit_of_measurement": "EUR/kWh", attribute: listed, **also})


async def priced_hours(hass: HomeAssistant, entry: MockConfigEntry) -> list[tuple[float, float]]:
    """Buy and sell of the coming whole hours."""
    answer = await plan(hass, entry, **ASKED)
    assert answer["basis"]["prices"] == "entity"
    # The first hour may be half, and the last one too.
    return [(hour["buy"], hour["sell"]) for hour in answer["hours"][1:35]]


def expected(sell: float = 0.06) -> list[tuple[float, float]]:
    return [(pytest.approx(price(hour)), pytest.approx(sell)) for hour in range(1, 35)]


async def test_a_plan_by_an_entity_is_the_plan_by_the_same_prices_handed_in(
    hass: HomeAssistant, priced: MockConfigEntry
) -> None:
    publish(hass, rows(sell=0.05))
    by_entity = await plan(hass, priced, **ASKED)
    handed_in = await plan(hass, priced, **ASKED, prices=rows(sell=0.05))
    assert by_entity.pop("basis") | {"prices": "given"} == handed_in.pop("basis") | {"dated_hours": 36}
    assert by_entity == handed_in
    assert by_entity["windows"]
    assert {hour["sell"] for hour in by_entity["hours"]} == {0.05}


async def test_the_bands_fill_what_the_entity_does_not_cover(hass: HomeAssistant, priced: MockConfigEntry) -> None:
    publish(hass, rows(20))
    answer = await plan(hass, priced, **ASKED)
    assert answer["basis"]["prices"] == "entity_and_tariff"
    # From the step of half an hour that is running.
    assert answer["basis"]["dated_hours"] == 20 - (0.5 if dt_util.now().minute >= 30 else 0)
    for at, hour in enumerate(answer["hours"][1:20], 1):
        assert hour["buy"] == pytest.approx(price(at))
    for hour in answer["hours"][20:-1]:
        start = datetime.fromisoformat(hour["start"])
        # 01:00 to 05:00.
        assert hour["buy"] == pytest.approx(0.11 if 1 <= start.hour < 5 else 0.31)
        assert hour["sell"] == 0.06


async def test_an_empty_list_leaves_all_to_the_bands(hass: HomeAssistant, priced: MockConfigEntry) -> None:
    publish(hass, [])
    basis = (await plan(hass, priced, **ASKED))["basis"]
    assert (basis["prices"], basis["dated_hours"]) == ("tariff", 0)
    publish(hass, [{"start": later(-30).isoformat(), "end": later(-29).isoformat(), "buy": 0.2}])
    basis = (await plan(hass, priced, **ASKED))["basis"]
    assert (basis["prices"], basis["dated_hours"]) == ("tariff", 0), "yesterday's"


async def test_prices_handed_in_go_before_an_entity(hass: HomeAssistant, priced: MockConfigEntry) -> None:
    """Which is not even looked at."""
    answer = await plan(hass, priced, **ASKED, prices=rows())
    assert answer["basis"]["prices"] == "given"
    assert answer["hours"][1]["buy"] == pytest.approx(price(1))


async def test_a_row_without_an_end_lasts_to_the_next_and_the_last_as_long_as_the_one_before(
    hass: HomeAssistant, priced: MockConfigEntry
) -> None:
    # In no order, and 36 h from any minute of this hour need 37.
    publish(hass, [{"start": row["start"], "buy": row["buy"]} for row in reversed(rows(37))])
    assert await priced_hours(hass, priced) == expected()
    publish(hass, [row | {"end": None, "sell": None} for row in rows(37)])
    assert await priced_hours(hass, priced) == expected()


async def test_two_lists_and_a_row_that_both_have(hass: HomeAssistant, priced: MockConfigEntry) -> None:
    name(hass, priced, lists=["today", " tomorrow "])
    publish(hass, rows(24), "today", tomorrow=rows(48, first=23))
    assert await priced_hours(hass, priced) == expected()
    # Tomorrow's are not known yet.
    for tomorrow in ({}, {"tomorrow": None}, {"tomorrow": []}):
        publish(hass, rows(24), "today", **tomorrow)
        assert (await plan(hass, priced, **ASKED))["basis"]["prices"] == "entity_and_tariff"


async def test_names_and_units_of_their_own(hass: HomeAssistant, priced: MockConfigEntry) -> None:
    name(hass, priced, lists=["hours"], start="from", end="till", buy="cents", sell="fed", factor=0.01)
    listed = [
        {"from": row["start"], "till": row["end"], "cents": str(row["buy"] * 100), "fed": 7, "start": "no time"}
        for row in rows()
    ]
    publish(hass, listed, "hours")
    assert await priced_hours(hass, priced) == expected(sell=0.07)


async def test_names_left_empty_are_the_usual_ones(hass: HomeAssistant, priced: MockConfigEntry) -> None:
    name(hass, priced, lists=[""], start="", end=" ", buy="", sell="")
    publish(hass, rows())
    assert await priced_hours(hass, priced) == expected()


@pytest.mark.parametrize("zone", ["America/New_York", "Asia/Kolkata"])
async def test_times_without_a_zone_are_the_houses(hass: HomeAssistant, priced: MockConfigEntry, zone: str) -> None:
    await hass.config.async_set_time_zone(zone)
    naive = [
        {
            "start": datetime.fromisoformat(row["start"]).replace(tzinfo=None).isoformat(),
            # Some entities hold times and no texts.
            "end": datetime.fromisoformat(row["end"]).replace(tzinfo=None),
            "buy": row["buy"],
        }
        for row in rows()
    ]
    publish(hass, naive)
    assert await priced_hours(hass, priced) == expected()


HOUR = {"start": "2026-11-25T10:00:00+00:00", "end": "2026-11-25T11:00:00+00:00", "buy": 0.2}


@pytest.mark.parametrize(
    ("attributes", "key", "says"),
    [
        ({}, "prices_no_attribute", ("under prices", "hold lists: –")),
        ({"prices": None, "later": [HOUR]}, "prices_no_attribute", ("hold lists: later",)),
        ({"prices": "0.2, 0.3"}, "prices_no_list", ("prices of sensor.mill_prices is not a list",)),
        ({"prices": {"10:00": 0.2}}, "prices_no_list", ("is not a list",)),
        ({"prices": [0.2, 0.3]}, "prices_no_row", ("holds 0.2",)),
        ({"prices": [{"from": "10:00", "buy": 0.2}]}, "prices_no_key", ("has no start", "from, buy")),
        ({"prices": [{**HOUR, "buy": None}]}, "prices_no_number", ("buy", HOUR["start"], "None")),
        ({"prices": [{**HOUR, "buy": "cheap"}]}, "prices_no_number", ("cheap",)),
        ({"prices": [{**HOUR, "buy": "nan"}]}, "prices_no_number", ("nan",)),
        ({"prices": [{**HOUR, "buy": True}]}, "prices_no_number", ("True",)),
        ({"prices": [{**HOUR, "buy": [0.2]}]}, "prices_no_number", ("[0.2]",)),
        ({"prices": [{**HOUR, "sell": "much"}]}, "prices_no_number", ("sell", "much")),
        ({"prices": [{"start": HOUR["start"], "value": 0.2}]}, "prices_no_key", ("has no buy", "start, value")),
        ({"prices": [{**HOUR, "start": "ten"}]}, "prices_no_time", ("ten",)),
        ({"prices": [{**HOUR, "end": 11}]}, "prices_no_time", ("11",)),
        ({"prices": [{"start": HOUR["start"], "buy": 0.2}]}, "prices_no_end", ("has no end",)),
        ({"prices": [{**HOUR, "end": HOUR["start"]}]}, "plan_rejected", ("ends before it starts",)),
        ({"prices": [HOUR, {**HOUR, "buy": 0.3}]}, "plan_rejected", ("two prices",)),
        ({"prices": [{"start": HOUR["start"], "buy": b} for b in (0.2, 0.3)]}, "prices_no_end", ("has no end",)),
    ],
)
async def test_prices_that_cannot_be_read_are_told(
    hass: HomeAssistant, priced: MockConfigEntry, attributes: dict[str, Any], key: str, says: tuple[str, ...]
) -> None:
    hass.states.async_set(PRICES, "0.2", attributes)
    with pytest.raises(ServiceValidationError) as fault:
        await plan(hass, priced, **ASKED)
    assert fault.value.translation_key == key
    message = str(fault.value)
    assert "{" not in message.replace("{'", ""), "a placeholder without a value"
    for text in says:
        assert text in message


async def test_an_entity_that_is_not_there_or_away_is_told(hass: HomeAssistant, priced: MockConfigEntry) -> None:
    with pytest.raises(ServiceValidationError, match=PRICES) as fault:
        await plan(hass, priced, **ASKED)
    assert fault.value.translation_key == "prices_no_entity"
    hass.states.async_set(PRICES, "unavailable")
    with pytest.raises(ServiceValidationError, match="unavailable") as fault:
        await plan(hass, priced, **ASKED)
    assert fault.value.translation_key == "prices_unavailable"


@pytest.mark.parametrize(
    ("solar_kwh", "known", "hours"),
    [(0, 48, 36), (6, 48, 48), (6, 40, 40), (6, 30, 30), (0, 30, 30)],
    ids=["no sun", "sun", "as far as they reach", "no further", "no sun, no further"],
)
async def test_dated_prices_are_planned_two_days_ahead_where_there_is_sun(
    hass: HomeAssistant, priced: MockConfigEntry, solar_kwh: float, known: int, hours: int
) -> None:
    answer = await plan(hass, priced, load_kwh=9, solar_kwh=solar_kwh, prices=rows(known))
    # From the step of half an hour that is running; prices begin with the hour.
    begun = 0.5 if hours == known and dt_util.now().minute >= 30 else 0
    assert answer["basis"]["dated_hours"] == hours - begun


async def test_an_entitys_prices_are_planned_two_days_ahead_where_there_is_sun_and_the_bands_are_not(
    hass: HomeAssistant, priced: MockConfigEntry
) -> None:
    publish(hass, rows(20))
    ahead = await plan(hass, priced, load_kwh=9, solar_kwh=6)
    publish(hass, [])
    by_bands = await plan(hass, priced, load_kwh=9, solar_kwh=6)

    def end(answer: dict[str, Any]) -> datetime:
        return datetime.fromisoformat(answer["hours"][-1]["start"])

    assert end(ahead) - end(by_bands) == timedelta(hours=12)
