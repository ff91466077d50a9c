"""charge_tonight: which nights are charged in, how the charge is switched off, and what it answers in words."""

from collections.abc import Iterator
from typing import Any

import pytest
from freezegun import freeze_time
from freezegun.api import TickingDateTimeFactory
from homeassistant.core import HomeAssistant
from homeassistant.exceptions import HomeAssistantError, ServiceValidationError
from pytest_homeassistant_custom_component.common import MockConfigEntry

from tests.actions.test_plan_charge import BATTERY, TARIFF
from tests.bench import burdock
from tests.bench.remote import Bench
from tests.bench.teasel import CHARGE, CONTROL_WORD
from tests.blueprints.house import london
from tests.calls import act
from tests.changes.order_calls import answers_again, order
from tests.changes.test_schedule_monitor import hurry, poll
from tests.conftest import QUICK, AddInverter
from tests.teasel import FACTORY, INPUT_AT, held, registers

EVENING = "2026-01-14 20:00"
OPTIONS = {"battery": BATTERY, "tariff": TARIFF}
SUMMER = {"months": [4, 5, 6, 7, 8, 9]}


@pytest.fixture
def clock() -> Iterator[TickingDateTimeFactory]:
    with freeze_time(london(EVENING), tick=True) as frozen:
        yield frozen


@pytest.fixture
async def bench(clock: TickingDateTimeFactory, socket_enabled: None) -> Any:
    async with await Bench.start(**QUICK, clock=london(EVENING).replace(tzinfo=None)) as running:
        await running.battery(level=20)
        yield running


@pytest.fixture
async def full(bench: Bench, add_inverter: AddInverter) -> MockConfigEntry:
    return await add_inverter(bench.port, **OPTIONS)


async def writes(bench: Bench) -> int:
    return len([one for one in await bench.journal() if one["function"] in (6, 16)])


async def test_out_of_season_the_charge_is_disarmed_once_and_told_once(
    hass: HomeAssistant, bench: Bench, full: MockConfigEntry
) -> None:
    answer = await act(hass, full, "charge_tonight", level=90, **SUMMER)
    assert (answer["outcome"], answer["wanted"], answer["basis"], answer["charge"]) == (
        "confirmed",
        False,
        "season",
        [],
    )
    assert await bench.registers("holding", CONTROL_WORD) == [0]
    assert await held(bench) == FACTORY, "the windows stay for whoever arms them again"
    assert (answer["title"], answer["important"]) == ("The night charge is switched off", True)
    assert answer["message"].startswith("It is not the time to charge, but the inverter was set to.")
    written = await writes(bench)
    answer = await act(hass, full, "charge_tonight", level=90, **SUMMER)
    assert (answer["outcome"], answer["title"], answer["message"], answer["important"]) == (
        "unchanged",
        None,
        None,
        False,
    )
    assert await writes(bench) == written


async def test_discharge_windows_alone_stay_armed_out_of_season(
    hass: HomeAssistant, bench: Bench, full: MockConfigEntry
) -> None:
    await act(
        hass,
        full,
        "apply_schedule",
        charge=[],
        discharge=[{"start": "17:00", "end": "19:00", "power": 2000, "stop_level": 20}],
    )
    written = await writes(bench)
    assert (await act(hass, full, "charge_tonight", **SUMMER))["outcome"] == "unchanged"
    assert await bench.registers("holding", CONTROL_WORD) == [1]
    assert await writes(bench) == written


async def test_an_inverter_that_cannot_disarm_loses_its_charge_windows_out_of_season(
    hass: HomeAssistant, clock: TickingDateTimeFactory, socket_enabled: None, add_inverter: AddInverter
) -> None:
    async with await Bench.start(**QUICK, inverter="burdock", clock=london(EVENING).replace(tzinfo=None)) as bench:
        entry = await add_inverter(bench.port, register_map="burdock_b3", unique_id="B3-AM-2611-0042", **OPTIONS)
        window = {"start": "01:00", "end": "05:00", "current": 60, "stop_level": 95}
        await act(hass, entry, "apply_schedule", charge=[window])
        before = await bench.registers("holding", burdock.CHARGE[0], 4)
        answer = await act(hass, entry, "charge_tonight", level=90, **SUMMER)
        assert (answer["outcome"], answer["title"]) == ("confirmed", "The night charge is switched off")
        assert await bench.registers("holding", burdock.CHARGE[0], 4) != before
        assert (await act(hass, entry, "get_schedule"))["charge"] == []
        assert (await act(hass, entry, "charge_tonight", level=90, **SUMMER))["outcome"] == "unchanged"


async def test_the_month_in_which_the_hours_begin_counts(
    hass: HomeAssistant, clock: TickingDateTimeFactory, bench: Bench, full: MockConfigEntry
) -> None:
    clock.move_to(london("2026-01-31 20:00"))
    await poll(hass, full)
    assert not (await act(hass, full, "charge_tonight", level=90, months=["1"]))["wanted"]
    answer = await act(hass, full, "charge_tonight", level=90, months=["1"], between={"start": "23:30", "end": "02:00"})
    assert answer["wanted"]
    assert await held(bench) == registers("23:30", "02:00", 3000, 90)


async def test_without_a_plan_the_months_decide_whether_it_pays(
    hass: HomeAssistant, bench: Bench, full: MockConfigEntry
) -> None:
    answer = await act(hass, full, "charge_tonight", when="pays", lowest_level=60, **SUMMER)
    assert (answer["basis"], answer["wanted"], answer["outcome"]) == ("fallback", False, "confirmed")
    assert answer["message"].startswith(
        "Too little is known about what this house uses, so the months of the season decide. It is not the time"
    )
    answer = await act(hass, full, "charge_tonight", when="pays")
    assert (answer["basis"], answer["wanted"], answer["title"]) == ("fallback", True, "Night charge without a plan")
    assert answer["message"] == (
        "Too little is known about what this house uses, so the fixed level applies. "
        "Read back from the inverter: charge 01:00–05:00 to 85 %."
    )
    assert await held(bench) == registers("01:00", "05:00", 3000, 85)


async def test_the_fixed_way_takes_the_level_without_a_plan_and_no_plan(
    hass: HomeAssistant, bench: Bench, full: MockConfigEntry
) -> None:
    answer = await act(hass, full, "charge_tonight", way="fixed")
    assert (answer["basis"], answer["plan"]) == ("fixed", None)
    assert await held(bench) == registers("01:00", "05:00", 3000, 85), "the options' level"
    await act(hass, full, "charge_tonight", way="fixed", fallback_level=70)
    assert await held(bench) == registers("01:00", "05:00", 3000, 70)
    await act(hass, full, "charge_tonight", way="fixed", fallback_level=40, lowest_level=60)
    assert await held(bench) == registers("01:00", "05:00", 3000, 60), "the lowest level counts here too"


@pytest.mark.parametrize("nothing", [None, ""], ids=["null", "empty text"])
async def test_fields_that_are_empty_are_as_left_out(
    hass: HomeAssistant, bench: Bench, full: MockConfigEntry, nothing: str | None
) -> None:
    empty = {"between": {"start": nothing, "end": nothing}, "fallback_level": nothing, "limit": nothing}
    await act(hass, full, "charge_tonight", way="fixed", **empty)
    assert await held(bench) == registers("01:00", "05:00", 3000, 85)
    await act(hass, full, "charge_tonight", way="fixed", **(empty | {"between": {"start": "02:30", "end": nothing}}))
    assert await held(bench) == registers("02:30", "05:00", 3000, 85)


async def test_no_level_to_charge_to_is_refused_and_answered_where_that_is_asked_for(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter
) -> None:
    entry = await add_inverter(bench.port, tariff=TARIFF)
    with pytest.raises(ServiceValidationError) as fault:
        await act(hass, entry, "charge_tonight", way="fixed")
    assert fault.value.translation_key == "tonight_no_level"
    answer = await act(hass, entry, "charge_tonight", way="fixed", report_failure=True)
    assert (answer["outcome"], answer["important"]) == ("failed", True)
    assert answer["title"] == "The night charge is not on the inverter"
    assert answer["message"] == (
        f"{answer['why']}. The inverter holds: charge 22:40–02:20 2000 W to 100 %; discharge never; armed. "
        "Chargehand does not try again this night."
    )
    assert await held(bench) == FACTORY


async def test_what_does_not_take_out_of_season_is_answered_as_not_switched_off(
    hass: HomeAssistant, bench: Bench, full: MockConfigEntry
) -> None:
    hurry(full)
    await bench.fault("write_ignored", count=None)
    with pytest.raises(HomeAssistantError):
        await act(hass, full, "charge_tonight", level=90, **SUMMER)
    answer = await act(hass, full, "charge_tonight", level=90, report_failure=True, **SUMMER)
    assert answer["title"] == "The night charge is not switched off"
    assert "did not take" in answer["message"]
    assert order(hass)["state"] == "failed"


async def test_an_order_that_waits_is_reported_when_the_hours_have_begun_and_when_it_has_worked(
    hass: HomeAssistant, clock: TickingDateTimeFactory, bench: Bench, full: MockConfigEntry
) -> None:
    assert (await act(hass, full, "report_tonight"))["state"] == "none"
    hurry(full)
    await bench.gateway(down=True)
    answer = await act(hass, full, "charge_tonight", level=90)
    assert (answer["outcome"], answer["title"], answer["important"]) == ("waiting", None, False), "there is time"
    assert (await act(hass, full, "report_tonight"))["message"] is None
    clock.move_to(london("2026-01-15 01:10"))
    await bench.clock(london("2026-01-15 01:10").replace(tzinfo=None))
    report = await act(hass, full, "report_tonight")
    assert (report["state"], report["title"]) == ("waiting", "The night charge is not on the inverter")
    assert "Chargehand could not reach the inverter, and nothing was written: " in report["message"]
    assert report["message"].endswith("schedule could not be read. Chargehand tries again until 04:50.")
    await answers_again(full, bench)
    await poll(hass, full)
    assert order(hass)["state"] == "done"
    report = await act(hass, full, "report_tonight")
    assert (report["state"], report["title"], report["important"]) == ("done", "Night charge", True)
    assert report["message"].startswith(f"It worked after {report['tries']} tries. Read back from the inverter: charge")
    await act(hass, full, "apply_schedule", charge=[], until="04:50")
    assert (await act(hass, full, "report_tonight"))["state"] == "none", "the last order is another one's"


async def test_what_the_battery_does_not_accept_is_said(
    hass: HomeAssistant, bench: Bench, full: MockConfigEntry
) -> None:
    # 10 A at 52 V, as the battery says of itself.
    await bench.set(INPUT_AT["battery_charge_current_limit"], [100], table="input")
    answer = await act(hass, full, "charge_tonight", level=90)
    (_, power, _, _) = await held(bench, CHARGE[0])
    assert 400 < power < 600
    assert (
        f"charge window 1 power: 3000 W was requested, {power} W was set (the battery's own limit)."
        in answer["message"]
    )
