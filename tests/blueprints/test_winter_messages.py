"""Winter night charge: the form left as it is, and what the user is told of nights that go wrong."""

from typing import Any

import pytest
from homeassistant.components.persistent_notification import async_register_callback
from homeassistant.core import callback
from homeassistant.setup import async_setup_component

from tests.actions.test_plan_charge import BATTERY, TARIFF
from tests.bench.teasel import CONTROL_WORD
from tests.blueprints.conftest import MoveIn
from tests.blueprints.house import MovedHouse
from tests.blueprints.test_winter_night_charge import FIXED, plan, wake
from tests.blueprints.test_winter_planned import BANDS
from tests.teasel import FACTORY, held, registers

NOT_SET = "The night charge is not on the inverter"
TOO_LOW = "The battery is lower than it should be"


def titles(house: MovedHouse) -> list[str]:
    return [one["title"] for one in house.told]


async def pass_by(house: MovedHouse, *hours: str, day: str = "2026-01-11") -> None:
    """Be in the house at these hours of a day."""
    for hour in hours:
        await house.go(f"{day} {hour}")


async def test_the_form_needs_the_inverter_only_and_its_messages_replace_each_other(move_in: MoveIn) -> None:
    house = await move_in(
        "2026-01-11 00:20", level=40, load=300, tariff=TARIFF | {"bands": BANDS}, battery=BATTERY | {"charge_kw": 2.5}
    )
    assert await async_setup_component(house.hass, "persistent_notification", {})
    told = dict[str, Any]()
    async_register_callback(house.hass, callback(lambda _kind, messages: told.update(messages)))
    await house.automate("winter_night_charge", notify=None)
    await pass_by(house, "00:29:50", "00:30:10")
    # There are no statistics yet: the options' level, in the tariff's hours, at the battery's limit.
    assert await held(house.bench) == registers("01:00", "05:00", 2500, 85)
    (message,) = told.values()
    assert message["title"] == "Night charge without a plan"
    await house.bench.battery(level=50)
    await pass_by(house, "05:00:30")
    await pass_by(house, "00:29:50", "00:30:10", day="2026-01-12")
    assert list(told) == ["automation.winter_night_charge"]


async def test_an_inverter_that_is_away_all_night_is_told_when_the_hours_begin_and_in_the_morning(
    move_in: MoveIn,
) -> None:
    house = await move_in("2026-01-11 00:20", level=40)
    await house.automate("winter_night_charge", **FIXED)
    await house.bench.gateway(down=True)
    await pass_by(house, "00:30:30", "00:59", "01:00:30", "02:00", "03:00", "04:51", "05:00:30")
    assert titles(house) == [NOT_SET, TOO_LOW]
    assert "Chargehand tries again until 04:50." in house.told[0]["message"]
    assert await held(house.bench) == FACTORY


async def test_what_does_not_take_when_the_inverter_is_back_is_told_then(move_in: MoveIn) -> None:
    house = await move_in("2026-01-11 00:20", level=60)
    house.hurry()
    await house.automate("winter_night_charge", **FIXED)
    await house.bench.gateway(down=True)
    await pass_by(house, "00:30:30", "00:35")
    assert house.told == []
    await house.bench.fault("write_ignored", count=None)
    await house.bench.gateway(down=False)
    await pass_by(house, "00:40", "00:45")
    (told,) = house.told
    assert told["title"] == NOT_SET
    assert "did not take" in told["message"]
    assert told["message"].endswith("Chargehand does not try again this night.")
    await pass_by(house, "01:00:30", "01:30")
    assert len(house.told) == 1


async def test_a_low_level_in_the_morning_is_as_it_should_be_where_charging_did_not_pay(move_in: MoveIn) -> None:
    house = await move_in("2026-01-11 00:20", level=40)
    house.calculate_with(lambda: plan(40))
    await house.automate("winter_night_charge", **(FIXED | {"way": "planned", "when": "pays", "tell_plan": True}))
    await pass_by(house, "00:29:50", "00:30:30")
    assert await house.bench.registers("holding", CONTROL_WORD) == [0]
    assert titles(house) == ["The night charge is switched off"]
    await wake(house, "2026-01-11")
    assert await house.level() < 40
    await pass_by(house, "00:29:50", "00:30:30", day="2026-01-12")
    assert len(house.told) == 1, "neither the morning nor the next night is news"


async def test_a_low_level_is_told_where_it_paid(move_in: MoveIn) -> None:
    house = await move_in("2026-06-11 00:20", level=20)
    window = {"start": "01:00", "end": "05:00", "power": 500, "stop_level": 70}
    house.calculate_with(lambda: plan(70, window))
    await house.automate("winter_night_charge", **(FIXED | {"way": "planned_hours", "when": "pays"}))
    await pass_by(house, "00:29:50", "00:30:30", day="2026-06-11")
    await wake(house, "2026-06-11")
    assert 20 < await house.level() < 50
    assert titles(house) == [TOO_LOW]


async def test_the_plan_is_told_every_night_once_where_that_is_wanted(move_in: MoveIn) -> None:
    house = await move_in("2026-01-11 00:20", level=60)
    house.calculate_with(lambda: plan(70, {"start": "02:00", "end": "04:30", "power": 3000, "stop_level": 70}))
    await house.automate("winter_night_charge", **(FIXED | {"way": "planned", "tell_plan": True}))
    await pass_by(house, "00:29:50", "00:30:30", "00:59:50", "01:00:30")
    await wake(house, "2026-01-11")
    assert titles(house) == ["Night charge"]
    assert house.told[0]["message"].endswith("Read back from the inverter: charge 01:00–05:00 to 70 %.")


@pytest.mark.parametrize("at", ["2026-01-10 18:00", "2026-01-11 02:00"], ids=["by day", "by night"])
async def test_run_by_hand_it_charges_for_the_night(move_in: MoveIn, at: str) -> None:
    house = await move_in(at, level=40)
    entity = await house.automate("winter_night_charge", **FIXED)
    await house.settle()
    await house.bench.set(CONTROL_WORD, [0])
    await house.hass.services.async_call("automation", "trigger", {"entity_id": entity}, blocking=True)
    await house.settle()
    assert await house.bench.registers("holding", CONTROL_WORD) == [1]
    assert await held(house.bench) == registers("01:00", "05:00", 3000, 90)
    assert house.told == []
