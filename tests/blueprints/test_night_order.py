"""Tonight's charge as an order, in a house whose time is moved: the inverter is away from 22:50 to 04:10."""

from typing import Any

import pytest

from tests.actions.test_plan_charge import TARIFF
from tests.bench.teasel import CHARGE, CONTROL_WORD
from tests.blueprints.conftest import MoveIn
from tests.blueprints.house import MovedHouse
from tests.blueprints.test_winter_planned import BANDS, KWH_AN_HOUR, plan_here, sunny_house
from tests.calls import act, record_events, state
from tests.house.test_plan_history import LOAD
from tests.kept_history import keep_energy
from tests.teasel import FACTORY, held, registers


@pytest.fixture(autouse=True)
def _chargehand_can_be_loaded(recorder_mock: Any, enable_custom_integrations: None) -> None:
    """The recorder has to be there before Home Assistant."""


def order(house: MovedHouse) -> str:
    return state(house.hass, "sensor", "order").state


async def test_an_inverter_that_is_away_by_night_is_charged_by_within_one_poll_of_its_return_with_one_message(
    move_in: MoveIn,
) -> None:
    house = await move_in("2026-01-10 22:45", level=40, load=300, tariff=TARIFF | {"bands": BANDS})
    house.hurry()
    kinds = record_events(house.hass, "chargehand_schedule", "type")
    await house.go("2026-01-10 22:50")
    await house.bench.gateway(down=True)
    await house.go("2026-01-10 22:55")
    answer = await act(house.hass, house.entry, "charge_tonight", level=90, limit=2000)
    assert answer["outcome"] == "waiting"
    assert answer["until"] == "2026-01-11T04:50:00+00:00"
    for moment in ("23:30", "23:59"):
        await house.go(f"2026-01-10 {moment}")
    for moment in ("00:30", "01:01", "02:00", "03:00", "04:09:50"):
        await house.go(f"2026-01-11 {moment}")
    assert order(house) == "waiting"
    assert kinds == []
    # Meanwhile the factory's own hours have charged.
    await house.bench.battery(level=40)
    await house.bench.gateway(down=False)
    # The polls of this house are a minute apart.
    await house.go("2026-01-11 04:10:50")
    assert order(house) == "done"
    assert await held(house.bench) == registers("01:00", "05:00", 2000, 90)
    assert kinds == ["confirmed", "order_done"]
    assert await house.writes() == 1
    before = await house.level()
    await house.go("2026-01-11 05:00:30")
    assert await house.level() > before + 10, "and it charges in what is left of the hours"
    assert order(house) == "done"
    assert kinds == ["confirmed", "order_done"]


async def test_an_inverter_that_stays_away_ends_the_order_ten_minutes_before_the_hours(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 22:45", level=40, load=300, tariff=TARIFF | {"bands": BANDS})
    house.hurry()
    kinds = record_events(house.hass, "chargehand_schedule", "type")
    await house.bench.gateway(down=True)
    await house.go("2026-01-10 22:55")
    await act(house.hass, house.entry, "charge_tonight", level=90)
    await house.go("2026-01-11 04:49")
    assert order(house) == "waiting"
    await house.go("2026-01-11 04:50:30")
    assert order(house) == "expired"
    await house.bench.gateway(down=False)
    await house.go("2026-01-11 04:58")
    assert kinds == ["order_expired"]
    assert await held(house.bench) == FACTORY
    assert await house.writes() == 0


async def test_an_order_that_is_taken_up_later_plans_anew(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 22:45", level=25, load=1000 * KWH_AN_HOUR)
    await plan_here(house)
    house.hurry()
    await keep_energy(house.hass, LOAD, 21, lambda _start: KWH_AN_HOUR)
    await house.go("2026-01-10 22:50")
    await house.bench.gateway(down=True)
    answer = await act(house.hass, house.entry, "charge_tonight")
    assert answer["outcome"] == "waiting"
    assert answer["plan"]["windows"], "planned with the level that was read last"
    first = state(house.hass, "sensor", "planned_level").attributes["hours"][0]["start"]
    assert first.startswith("2026-01-10T22")
    await house.go("2026-01-11 01:00")
    await house.go("2026-01-11 04:09:50")
    await house.bench.battery(level=50)
    await house.bench.gateway(down=False)
    await house.go("2026-01-11 04:11:30")
    assert order(house) == "done"
    shown = state(house.hass, "sensor", "planned_level")
    assert shown.attributes["hours"][0]["start"].startswith("2026-01-11T04")
    windows = shown.attributes["windows"]
    assert windows != answer["plan"]["windows"]
    assert any("04:00" <= window["start"] < window["end"] == "05:00" for window in windows), "what is left of the hours"
    for window, place in zip(windows, CHARGE, strict=False):
        assert await held(house.bench, place) == registers(
            window["start"], window["end"], round(window["power"]), window["stop_level"]
        )


async def test_a_plan_that_charges_nothing_takes_the_windows_off_and_a_lowest_level_keeps_one(move_in: MoveIn) -> None:
    house = await sunny_house(move_in)
    answer = await act(house.hass, house.entry, "charge_tonight")
    assert (answer["outcome"], answer["basis"], answer["charge"]) == ("confirmed", "planned", [])
    for window in CHARGE:
        start, _, _, end = await held(house.bench, window)
        assert start == end, "unused"
    answer = await act(house.hass, house.entry, "charge_tonight", lowest_level=30)
    assert answer["charge"] == [{"start": "01:00", "end": "05:00", "power": 3000.0, "stop_level": 30}]
    assert await held(house.bench) == registers("01:00", "05:00", 3000, 30)


async def test_planned_hours_are_the_plans_and_given_hours_are_kept(move_in: MoveIn) -> None:
    house = await move_in("2026-01-11 00:20", level=25, load=1000 * KWH_AN_HOUR)
    await plan_here(house)
    await keep_energy(house.hass, LOAD, 21, lambda _start: KWH_AN_HOUR)
    answer = await act(house.hass, house.entry, "charge_tonight", lowest_level=80, limit=2000)
    assert answer["basis"] == "planned"
    assert [(one["start"], one["end"], one["power"]) for one in answer["charge"]] == [
        (one["start"], one["end"], one["power"]) for one in answer["plan"]["windows"]
    ]
    assert all(one["power"] <= 2000 and one["stop_level"] >= 80 for one in answer["charge"])
    answer = await act(house.hass, house.entry, "charge_tonight", between={"start": "00:30", "end": "04:30"})
    (window,) = answer["charge"]
    assert (window["start"], window["end"]) == ("00:30", "04:30")
    assert window["stop_level"] == round(answer["plan"]["target_level"])


async def test_a_night_that_does_not_pay_is_switched_off_whatever_the_lowest_level(move_in: MoveIn) -> None:
    house = await sunny_house(move_in)
    answer = await act(house.hass, house.entry, "charge_tonight", when="pays", lowest_level=30, months=[1])
    assert (answer["outcome"], answer["basis"], answer["wanted"]) == ("confirmed", "planned", False)
    assert await house.bench.registers("holding", CONTROL_WORD) == [0]
    assert answer["message"].startswith(answer["plan"]["why"])
    assert answer["title"] == "The night charge is switched off"


async def test_the_planned_level_in_all_of_the_tariffs_hours(move_in: MoveIn) -> None:
    house = await move_in("2026-01-11 02:40", level=25, load=1000 * KWH_AN_HOUR)
    await plan_here(house)
    await keep_energy(house.hass, LOAD, 21, lambda _start: KWH_AN_HOUR)
    answer = await act(house.hass, house.entry, "charge_tonight", way="planned", when="pays", months=[7])
    assert answer["wanted"], "it pays, also out of season"
    assert answer["plan"]["windows"][0]["start"] >= "02:30", "the plan has only what is left of the hours"
    level = round(answer["plan"]["target_level"])
    assert await held(house.bench) == registers("01:00", "05:00", 3000, level)
    assert (answer["title"], answer["important"]) == ("Night charge", False)
    told = f"{answer['plan']['why']} Read back from the inverter: charge 01:00–05:00 to {level} %."
    assert answer["message"] == told
    given = {"between": {"start": "00:30", "end": "04:30"}, "way": "planned_hours"}
    answer = await act(house.hass, house.entry, "charge_tonight", **given)
    assert [(one["start"], one["end"]) for one in answer["charge"]] == [
        (one["start"], one["end"]) for one in answer["plan"]["windows"]
    ]
    # 30 % is above what is there, and below what the plan wants.
    answer = await act(house.hass, house.entry, "charge_tonight", way="fixed", when="pays", fallback_level=30)
    assert answer["plan"]["windows"], "the plan says whether it pays, and not how far"
    assert await held(house.bench) == registers("01:00", "05:00", 3000, 30)
