"""charge_before in a real Home Assistant: what the options fill in, what is refused, what it answers, and what it leaves alone."""

from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import Any

import pytest
from freezegun import freeze_time
from homeassistant.core import HomeAssistant
from homeassistant.exceptions import HomeAssistantError, ServiceValidationError
from pytest_homeassistant_custom_component.common import MockConfigEntry

from tests.actions.test_plan_charge import BATTERY
from tests.bench.remote import Bench
from tests.blueprints.house import LONDON, london
from tests.calls import act
from tests.changes.order_calls import answers_again, order
from tests.changes.test_schedule_monitor import hurry, poll
from tests.conftest import QUICK, AddInverter
from tests.teasel import FACTORY, held, registers

EVENING = "2026-01-10 22:05"
PRICES = "sensor.mill_prices"
BEFORE: dict[str, Any] = {"before": "17:00", "need": 80, "way": "cheapest", "hold": False, "price_sensor": PRICES}
NIGHT = {"02:00": 0.10, "02:30": 0.10, "03:00": 0.10, "03:30": 0.10}


@pytest.fixture
def evening() -> Iterator[None]:
    with freeze_time(london(EVENING), tick=True):
        yield


@pytest.fixture
async def bench(evening: None, socket_enabled: None) -> Any:
    async with await Bench.start(**QUICK, clock=london(EVENING).replace(tzinfo=None)) as running:
        await running.battery(level=60)
        yield running


@pytest.fixture
async def full(bench: Bench, add_inverter: AddInverter) -> MockConfigEntry:
    """An entry with its battery: 10 kWh, charged with 3 kW."""
    return await add_inverter(bench.port, battery=BATTERY)


def rows(cheap: dict[str, float], hours: int = 26) -> list[dict[str, Any]]:
    """Half hours from 22:00 on, 0.25 but for the cheap ones."""
    first = datetime(2026, 1, 10, 22, tzinfo=LONDON)
    starts = [first + timedelta(minutes=30 * at) for at in range(2 * hours)]
    return [{"start": start.isoformat(), "buy": cheap.get(f"{start:%H:%M}", 0.25)} for start in starts]


def show(hass: HomeAssistant, prices: Any) -> None:
    hass.states.async_set(PRICES, "0.25", {"prices": prices})


async def test_capacity_limit_and_places_are_the_options_and_the_inverters(
    hass: HomeAssistant, bench: Bench, full: MockConfigEntry
) -> None:
    show(hass, rows(NIGHT))
    answer = await act(hass, full, "charge_before", **BEFORE)
    # 2 kWh at 3 kW and a tenth more: 44 minutes.
    assert answer["charge"] == [{"start": "03:00", "end": "04:00", "power": 3000.0, "stop_level": 80}]
    assert (answer["outcome"], answer["plan"], answer["important"]) == ("confirmed", None, False)
    assert answer["until"] == "2026-01-11T16:50:00+00:00", "ten minutes before the hours"
    assert answer["message"] == "Read back from the inverter: charge 03:00–04:00 to 80 %."
    assert await held(bench) == registers("03:00", "04:00", 3000, 80)
    assert order(hass)["what"] == "charge_before"
    assert order(hass)["until"] == datetime.fromisoformat(answer["until"])


@pytest.mark.parametrize("name", ["price_attribute", "key_start", "key_price"])
async def test_a_name_that_is_left_empty_finds_no_prices_and_says_so(
    hass: HomeAssistant, full: MockConfigEntry, name: str
) -> None:
    show(hass, rows(NIGHT))
    answer = await act(hass, full, "charge_before", **BEFORE, **{name: ""}, report_failure=True, only_new_prices=False)
    assert PRICES in answer["why"]
    assert answer["outcome"] in {"waiting", "no_prices", "failed"}


async def test_with_the_hours_too_near_it_is_the_next_days(
    hass: HomeAssistant, bench: Bench, full: MockConfigEntry
) -> None:
    show(hass, rows(NIGHT))
    answer = await act(hass, full, "charge_before", **(BEFORE | {"before": "22:14"}))
    assert answer["until"] == "2026-01-11T22:04:00+00:00"


async def test_prices_that_are_handed_in_go_before_the_sensors(
    hass: HomeAssistant, bench: Bench, full: MockConfigEntry
) -> None:
    show(hass, rows(NIGHT))
    answer = await act(hass, full, "charge_before", **BEFORE, prices=rows({"12:00": 0.05, "12:30": 0.05}))
    assert [(one["start"], one["end"]) for one in answer["charge"]] == [("12:00", "13:00")]


async def test_what_an_automation_leaves_empty_counts_as_left_out(
    hass: HomeAssistant, bench: Bench, full: MockConfigEntry
) -> None:
    show(hass, rows(NIGHT))
    empty = dict.fromkeys(("reserve", "capacity", "limit", "places", "prices"))
    answer = await act(hass, full, "charge_before", **BEFORE, **empty)
    assert [(one["start"], one["power"]) for one in answer["charge"]] == [("03:00", 3000.0)]


async def test_without_battery_and_limit_it_says_what_is_missing(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter
) -> None:
    entry = await add_inverter(bench.port)
    show(hass, rows(NIGHT))
    with pytest.raises(ServiceValidationError) as fault:
        await act(hass, entry, "charge_before", **BEFORE, capacity=10)
    assert fault.value.translation_key == "before_no_battery"
    answer = await act(hass, entry, "charge_before", **BEFORE, capacity=10, report_failure=True)
    assert answer["outcome"] == "failed"
    assert answer["title"] == "The charge before the expensive hours is not set"
    assert answer["message"].startswith(
        "The request was refused. The energy of the full battery and a limit are needed."
    )
    assert "The inverter holds: charge 22:40–02:20" in answer["message"]
    assert answer["message"].endswith("Chargehand does not try again.")
    assert await held(bench) == FACTORY


async def test_prices_that_were_handed_in_and_do_not_reach_are_no_order(
    hass: HomeAssistant, bench: Bench, full: MockConfigEntry
) -> None:
    short = rows(NIGHT, hours=4)
    with pytest.raises(ServiceValidationError) as fault:
        await act(hass, full, "charge_before", **BEFORE, prices=short)
    assert fault.value.translation_key == "before_prices_end"
    answer = await act(hass, full, "charge_before", **BEFORE, prices=short, report_failure=True)
    assert (answer["outcome"], answer["important"]) == ("no_prices", True)
    assert answer["message"] == (
        "Prices are known only until 02:00, but the expensive hours begin at 17:00. Nothing was written."
    )
    assert order(hass)["state"] == "none"


async def test_a_sensors_prices_are_waited_for_and_the_same_charge_given_again_goes_on_counting(
    hass: HomeAssistant, bench: Bench, full: MockConfigEntry
) -> None:
    answer = await act(hass, full, "charge_before", **BEFORE)
    assert (answer["outcome"], answer["important"]) == ("waiting", False)
    assert "sensor.mill_prices is missing" in answer["why"]
    orders = full.runtime_data.orders
    first = orders.order
    await act(hass, full, "charge_before", **BEFORE)
    assert orders.order is not first
    assert (orders.order.tries, orders.order.since) == (2, first.since)
    show(hass, rows(NIGHT))
    assert (await act(hass, full, "charge_before", **BEFORE))["outcome"] == "confirmed"
    assert orders.order.tries == 2


async def test_only_new_prices_bring_another_choice(hass: HomeAssistant, bench: Bench, full: MockConfigEntry) -> None:
    again = BEFORE | {"only_new_prices": True}
    assert (await act(hass, full, "charge_before", **again))["outcome"] == "same_prices", "there are none yet"
    show(hass, rows(NIGHT))
    assert (await act(hass, full, "charge_before", **again))["outcome"] == "confirmed"
    asked = len(await bench.journal())
    # What comes after the hours is new, and what is before them is not.
    show(hass, rows(NIGHT | {"18:00": 0.9}, hours=40)[1:])
    assert (await act(hass, full, "charge_before", **again))["outcome"] == "same_prices"
    assert len(await bench.journal()) == asked, "the inverter is left alone"
    show(hass, rows({"05:00": 0.05, "05:30": 0.05}))
    answer = await act(hass, full, "charge_before", **again)
    assert [(one["start"], one["end"]) for one in answer["charge"]] == [("05:00", "06:00")]


async def test_prices_that_were_known_beyond_the_hours_are_not_new_when_these_are_over(
    hass: HomeAssistant, bench: Bench, full: MockConfigEntry
) -> None:
    again = BEFORE | {"only_new_prices": True}
    show(hass, rows(NIGHT))
    await act(hass, full, "charge_before", **BEFORE)
    show(hass, rows(NIGHT, hours=50))
    assert (await act(hass, full, "charge_before", **again))["outcome"] == "same_prices"
    with freeze_time(london("2026-01-11 17:30"), tick=True):
        show(hass, rows(NIGHT, hours=50)[38:])
        assert (await act(hass, full, "charge_before", **again))["outcome"] == "same_prices", (
            "the next day's are as known"
        )


async def test_an_order_taken_up_later_chooses_among_what_is_left(
    hass: HomeAssistant, bench: Bench, full: MockConfigEntry
) -> None:
    show(hass, rows(NIGHT | {"22:00": 0.01, "22:30": 0.01}))
    hurry(full)
    await bench.gateway(down=True)
    answer = await act(hass, full, "charge_before", **(BEFORE | {"need": 63}))
    assert answer["outcome"] == "waiting"
    with freeze_time(london("2026-01-11 01:00"), tick=True):
        await answers_again(full, bench)
        await poll(hass, full)
        assert order(hass)["state"] == "done"
    assert await held(bench) == registers("03:30", "04:00", 3000, 63)


async def test_an_entry_that_may_only_read_is_refused(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter
) -> None:
    entry = await add_inverter(bench.port, allow_control=False, battery=BATTERY)
    # There are no prices, which nobody shall wait for.
    with pytest.raises(HomeAssistantError) as fault:
        await act(hass, entry, "charge_before", **BEFORE)
    assert fault.value.translation_key == "control_not_allowed"
    answer = await act(hass, entry, "charge_before", **BEFORE, report_failure=True)
    assert "Chargehand may only read this inverter" in answer["message"]
