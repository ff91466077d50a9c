"""charge_tonight in a real Home Assistant: the hours, the level, the limit, the clock, and an inverter that is away by night."""

from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import Any

import pytest
from freezegun import freeze_time
from homeassistant.core import HomeAssistant
from homeassistant.exceptions import ServiceValidationError
from pytest_homeassistant_custom_component.common import MockConfigEntry

from tests.actions.test_plan_charge import BATTERY, TARIFF
from tests.bench.remote import Bench
from tests.bench.teasel import CHARGE, CONTROL_WORD
from tests.blueprints.house import london
from tests.calls import act, entity_id, state
from tests.changes.order_calls import answers_again, order
from tests.changes.test_schedule_monitor import hurry, poll
from tests.conftest import QUICK, AddInverter
from tests.teasel import held, registers

EVENING = "2026-01-14 20:00"
OPTIONS = {"battery": BATTERY, "tariff": TARIFF}
HOURS = {"start": "01:00", "end": "05:00"}


@pytest.fixture
def evening() -> Iterator[None]:
    with freeze_time(london(EVENING), tick=True):
        yield


@pytest.fixture
async def bench(evening: None, socket_enabled: None) -> Any:
    async with await Bench.start(**QUICK, clock=london(EVENING).replace(tzinfo=None)) as running:
        await running.battery(level=20)
        yield running


@pytest.fixture
async def full(bench: Bench, add_inverter: AddInverter) -> MockConfigEntry:
    """An entry with battery and tariff."""
    return await add_inverter(bench.port, **OPTIONS)


async def test_a_fixed_level_in_the_tariffs_cheapest_hours_with_the_batterys_limit(
    hass: HomeAssistant, bench: Bench, full: MockConfigEntry
) -> None:
    answer = await act(hass, full, "charge_tonight", level=90)
    assert (answer["outcome"], answer["basis"], answer["plan"]) == ("confirmed", "fixed", None)
    assert answer["charge"] == [{"start": "01:00", "end": "05:00", "power": 3000.0, "stop_level": 90}]
    assert answer["receipt"]["outcome"] == "confirmed"
    assert await held(bench) == registers("01:00", "05:00", 3000, 90)
    assert order(hass)["what"] == "charge_tonight"
    assert answer["until"] == "2026-01-15T04:50:00+00:00", "ten minutes before the hours end"


async def test_too_little_history_charges_to_the_fallback_level_and_says_so(
    hass: HomeAssistant, bench: Bench, full: MockConfigEntry
) -> None:
    answer = await act(hass, full, "charge_tonight")
    assert answer["basis"] == "fallback"
    assert answer["plan"]["basis"]["fallback"]
    assert await held(bench) == registers("01:00", "05:00", 3000, 85), "the options' level"
    await act(hass, full, "charge_tonight", fallback_level=70)
    assert await held(bench) == registers("01:00", "05:00", 3000, 70)
    await act(hass, full, "charge_tonight", fallback_level=40, lowest_level=60)
    assert await held(bench) == registers("01:00", "05:00", 3000, 60)


@pytest.mark.parametrize(("limit", "unit", "power"), [(1200, "w", 1200), (2.5, "W", 2), (20, "A", None)])
async def test_the_limit_given_counts(
    hass: HomeAssistant, bench: Bench, full: MockConfigEntry, limit: float, unit: str, power: int | None
) -> None:
    await act(hass, full, "charge_tonight", between=HOURS, level=80, limit=limit, limit_unit=unit)
    volts = float(state(hass, "sensor", "battery_voltage").state)
    start, watts, level, end = await held(bench)
    assert (start, level, end) == (100, 80, 500)
    assert watts == pytest.approx(limit * volts if power is None else power, abs=volts / 2 if power is None else 0.5)


async def test_hours_given_count_also_over_midnight(hass: HomeAssistant, bench: Bench, full: MockConfigEntry) -> None:
    answer = await act(hass, full, "charge_tonight", between={"start": "23:30", "end": "03:00"}, level=80)
    assert await held(bench) == registers("23:30", "03:00", 3000, 80)
    assert answer["until"] == "2026-01-15T02:50:00+00:00"


async def test_no_tariff_and_no_hours_is_refused_with_what_to_do(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter
) -> None:
    entry = await add_inverter(bench.port)
    with pytest.raises(ServiceValidationError) as fault:
        await act(hass, entry, "charge_tonight", level=80)
    assert fault.value.translation_key == "tonight_no_hours"
    with pytest.raises(ServiceValidationError) as fault:
        await act(hass, entry, "charge_tonight", between=HOURS)
    assert fault.value.translation_key == "plan_no_battery", "there is no level to fall back to"
    answer = await act(hass, entry, "charge_tonight", between=HOURS, fallback_level=80, limit=3000)
    assert answer["basis"] == "fallback"
    assert "Battery and demand" in answer["why_no_plan"]
    assert await held(bench) == registers("01:00", "05:00", 3000, 80)


@pytest.mark.parametrize(("wanted", "off_after"), [(True, 3), (False, 1200)])
async def test_a_clock_that_is_far_off_is_set_first_unless_it_is_to_be_left(
    hass: HomeAssistant, bench: Bench, full: MockConfigEntry, wanted: bool, off_after: float
) -> None:
    shown = datetime.fromisoformat((await bench.clock())["clock"])
    await bench.clock(shown - timedelta(minutes=20))
    await poll(hass, full)
    await act(hass, full, "charge_tonight", level=80, set_clock=wanted)
    now = datetime.fromisoformat((await bench.clock())["clock"])
    assert abs((shown - now).total_seconds()) == pytest.approx(off_after, abs=60 if not wanted else 30)
    assert await held(bench) == registers("01:00", "05:00", 3000, 80)


async def test_a_clock_that_does_not_take_the_time_keeps_nobody_from_charging(
    hass: HomeAssistant, bench: Bench, full: MockConfigEntry
) -> None:
    hurry(full)
    shown = datetime.fromisoformat((await bench.clock())["clock"])
    await bench.clock(shown - timedelta(minutes=20))
    await poll(hass, full)
    await bench.fault("exception", code=3, only="write", nth=1)
    assert (await act(hass, full, "charge_tonight", level=80))["outcome"] == "confirmed"
    assert await held(bench) == registers("01:00", "05:00", 3000, 80)


async def test_the_button_does_it_with_what_the_options_say_also_for_an_inverter_that_is_away(
    hass: HomeAssistant, bench: Bench, full: MockConfigEntry
) -> None:
    hurry(full)
    await bench.gateway(down=True)
    await poll(hass, full)
    await poll(hass, full)
    button = {"entity_id": entity_id(hass, "button", "plan_tonight")}
    assert state(hass, "button", "plan_tonight").state != "unavailable"
    await hass.services.async_call("button", "press", button, blocking=True)
    assert order(hass)["state"] == "waiting"
    assert order(hass)["by"].endswith(f"({button['entity_id']})")
    await answers_again(full, bench)
    await poll(hass, full)
    assert order(hass)["state"] == "done"
    assert await held(bench) == registers("01:00", "05:00", 3000, 85)


async def test_the_other_button_puts_the_schedule_before_the_last_change_back(
    hass: HomeAssistant, bench: Bench, full: MockConfigEntry
) -> None:
    before = await held(bench)
    await act(hass, full, "charge_tonight", level=80)
    assert await held(bench) != before
    button = {"entity_id": entity_id(hass, "button", "restore_schedule")}
    await hass.services.async_call("button", "press", button, blocking=True)
    assert await held(bench) == before


async def test_a_plan_that_waits_answers_with_plan_and_why(
    hass: HomeAssistant, bench: Bench, full: MockConfigEntry
) -> None:
    hurry(full)
    # What the change reads and writes is lost; what was polled before is there to plan with.
    await bench.fault("exception", code=11, count=None)
    asked = {"load_kwh": 9, "solar_kwh": 0, "apply": True, "until": "04:50"}
    answer = await act(hass, full, "plan_charge", **asked)
    assert answer["outcome"] == answer["receipt"]["outcome"] == "waiting"
    assert "could not reach the inverter" in answer["receipt"]["why"]
    assert answer["target_level"] > 60
    await bench.clear_faults()
    await poll(hass, full)
    assert order(hass)["state"] == "done"
    (window,) = answer["windows"]
    assert (await held(bench))[0] == int(window["start"].replace(":", ""))


async def test_a_plan_that_is_not_applied_takes_no_end(
    hass: HomeAssistant, bench: Bench, full: MockConfigEntry
) -> None:
    with pytest.raises(ServiceValidationError) as fault:
        await act(hass, full, "plan_charge", load_kwh=9, solar_kwh=0, until="04:50")
    assert fault.value.translation_key == "until_without_apply"
    assert await bench.registers("holding", CONTROL_WORD) == [1]
    assert (await held(bench, CHARGE[0]))[0] == 2240
