"""Schedule changed elsewhere: what the inverter holds at the end, and what the user was told and asked."""

from typing import Any

import pytest
from homeassistant.components.persistent_notification import async_register_callback
from homeassistant.core import HomeAssistant
from homeassistant.setup import async_setup_component

from tests.bench.teasel import CHARGE
from tests.blueprints.conftest import MoveIn
from tests.blueprints.house import MovedHouse
from tests.calls import act, state
from tests.teasel import TONIGHT, WANTED, held, registers

TELL = [
    {
        "event": "test_told",
        "event_data": {
            "title": "{{ title }}",
            "message": "{{ message }}",
            "tag": "{{ tag }}",
            "buttons": "{{ buttons }}",
        },
    }
]
THEIRS = registers("03:00", "03:30", 500, 100)
OTHER = registers("01:00", "06:00", 4500, 100)
PUT_BACK = {"notify": TELL, "then": "put_back", "wait": 10, "most": 2}
TITLE = "The battery's schedule was changed elsewhere"


async def watched(move_in: MoveIn, **inputs: Any) -> MovedHouse:
    """A house at noon, its schedule confirmed and watched."""
    house = await move_in("2026-01-10 12:00")
    await act(house.hass, house.entry, "apply_schedule", charge=TONIGHT)
    await house.automate("changed_elsewhere", **inputs)
    await house.go("2026-01-10 12:01")
    return house


async def other_hand(house: MovedHouse, until: str, values: list[int] = THEIRS) -> None:
    """The data logger writes window 1; the next poll has found it by `until`."""
    await house.bench.logger_overwrite(CHARGE[0].start, values)
    await house.go(f"2026-01-10 {until}")


async def press(house: MovedHouse, which: str, message: int = -1) -> None:
    """Press a button of a message, as the companion app tells it."""
    (button,) = [one for one in house.told[message]["buttons"] if one["title"] == which]
    house.hass.bus.async_fire("mobile_app_notification_action", {"action": button["action"]})
    await house.settle()


def status(hass: HomeAssistant) -> str:
    return state(hass, "sensor", "schedule_status").state


def titles(house: MovedHouse) -> list[str]:
    return [one["title"] for one in house.told]


async def test_told_only_with_what_was_and_what_is(move_in: MoveIn) -> None:
    house = await watched(move_in, notify=TELL)
    await other_hand(house, "12:03", registers("01:00", "05:00", 500, 95))
    writes = await house.writes()
    await house.go("2026-01-10 18:00")
    (told,) = house.told
    assert told["title"] == TITLE
    assert "Teasel T5: charge window 1 power was 3000 W, is now 500 W. " in told["message"]
    assert "The inverter holds: charge 01:00–05:00 500 W to 95 %; discharge never; armed." in told["message"]
    assert [one["title"] for one in told["buttons"]] == ["Keep it", "Put mine back now"]
    assert await house.writes() == writes
    assert status(house.hass) == "changed_elsewhere"


async def test_mine_is_put_back_after_the_minutes_and_told(move_in: MoveIn) -> None:
    house = await watched(move_in, **PUT_BACK)
    await other_hand(house, "12:03")
    assert "Yours is put back at 12:1" in house.told[0]["message"]
    await house.go("2026-01-10 12:11")
    assert await held(house.bench) == THEIRS
    await house.go("2026-01-10 12:14")
    assert await held(house.bench) == WANTED
    assert titles(house) == [TITLE, "Your schedule is back"]
    assert (
        "charge 01:00–05:00 3000 W to 95 %; discharge never; armed. It was read back after" in house.told[1]["message"]
    )
    assert house.told[1]["buttons"] == []
    assert status(house.hass) == "confirmed"


async def test_without_actions_of_ones_own_each_message_takes_the_place_of_the_last(move_in: MoveIn) -> None:
    house = await watched(move_in, **(PUT_BACK | {"notify": None}))
    assert await async_setup_component(house.hass, "persistent_notification", {})
    shown: dict[str, dict[str, str]] = {}

    def hear(_: object, notifications: dict[str, Any]) -> None:
        shown.update(notifications)

    async_register_callback(house.hass, hear)
    await other_hand(house, "12:03")
    assert [one["title"] for one in shown.values()] == [TITLE]
    await house.go("2026-01-10 12:14")
    assert [one["title"] for one in shown.values()] == ["Your schedule is back"]


async def test_an_objection_keeps_theirs_and_it_is_confirmed(move_in: MoveIn) -> None:
    house = await watched(move_in, **PUT_BACK)
    await other_hand(house, "12:03")
    writes = await house.writes()
    await press(house, "Keep it")
    assert status(house.hass) == "confirmed"
    await house.go("2026-01-10 12:30")
    assert await held(house.bench) == THEIRS
    assert await house.writes() == writes
    assert titles(house) == [TITLE, "The other schedule is kept"]
    assert "charge 03:00–03:30 500 W to 100 %" in house.told[1]["message"]


async def test_an_objection_that_comes_too_late_is_told_so(move_in: MoveIn) -> None:
    house = await watched(move_in, **PUT_BACK)
    await other_hand(house, "12:03")
    await house.go("2026-01-10 12:14")
    await press(house, "Keep it", 0)
    assert await held(house.bench) == WANTED
    assert titles(house)[2:] == ["That button came too late"]
    assert "charge 01:00–05:00 3000 W" in house.told[2]["message"]
    assert "confirmed since 12:1" in house.told[2]["message"]


async def test_a_button_of_an_earlier_change_does_not_keep_a_later_one(move_in: MoveIn) -> None:
    house = await watched(move_in, **PUT_BACK)
    await other_hand(house, "12:03")
    await other_hand(house, "12:06", OTHER)
    await press(house, "Keep it", 0)
    assert titles(house) == [TITLE, TITLE, "That button came too late"]
    assert status(house.hass) == "changed_elsewhere"
    assert [one["title"] for one in house.told[2]["buttons"]] == ["Keep it", "Put mine back now"]


async def test_a_further_change_begins_the_time_anew(move_in: MoveIn) -> None:
    house = await watched(move_in, **PUT_BACK)
    await other_hand(house, "12:03")
    await other_hand(house, "12:10", OTHER)
    await house.go("2026-01-10 12:15")
    assert await held(house.bench) == OTHER
    await house.go("2026-01-10 12:22")
    assert await held(house.bench) == WANTED
    assert titles(house) == [TITLE, TITLE, "Your schedule is back"]


async def test_mine_is_put_back_at_once_by_the_button(move_in: MoveIn) -> None:
    house = await watched(move_in, notify=TELL)
    await other_hand(house, "12:03")
    await press(house, "Put mine back now")
    assert await held(house.bench) == WANTED
    assert titles(house) == [TITLE, "Your schedule is back"]


async def test_a_schedule_that_i_set_in_between_stays(move_in: MoveIn) -> None:
    house = await watched(move_in, **PUT_BACK)
    await other_hand(house, "12:03")
    await act(house.hass, house.entry, "apply_schedule", charge=[TONIGHT[0] | {"power": 1500}])
    await house.go("2026-01-10 13:00")
    assert await held(house.bench) == registers("01:00", "05:00", 1500, 95)
    assert titles(house) == [TITLE]


async def test_a_schedule_that_was_put_right_elsewhere_is_left_alone(move_in: MoveIn) -> None:
    house = await watched(move_in, **PUT_BACK)
    await other_hand(house, "12:03")
    writes = await house.writes()
    await other_hand(house, "12:06", WANTED)
    await house.go("2026-01-10 13:00")
    assert await house.writes() == writes + 1, "the data logger's own"
    assert titles(house) == [TITLE]


async def test_after_so_many_times_a_day_it_is_only_told(move_in: MoveIn) -> None:
    house = await watched(move_in, **PUT_BACK)
    for begin, end in (("12:03", "12:15"), ("13:03", "13:15")):
        await other_hand(house, begin)
        await house.go(f"2026-01-10 {end}")
        assert await held(house.bench) == WANTED
    await other_hand(house, "14:03")
    await house.go("2026-01-10 23:55")
    assert await held(house.bench) == THEIRS
    assert titles(house) == [TITLE, "Your schedule is back"] * 2 + [TITLE]
    assert "Yours was put back 2× today, so the change now stays" in house.told[-1]["message"]
    await press(house, "Put mine back now")
    assert await held(house.bench) == WANTED, "asked for by hand it is done"
    await house.go("2026-01-11 00:05")
    await house.bench.logger_overwrite(CHARGE[0].start, THEIRS)
    await house.go("2026-01-11 00:07")
    await house.go("2026-01-11 00:20")
    assert await held(house.bench) == WANTED, "the next day counts anew"


async def test_an_inverter_that_is_away_is_tried_again(move_in: MoveIn) -> None:
    house = await watched(move_in, **PUT_BACK)
    await other_hand(house, "12:03")
    await house.bench.gateway(down=True)
    for minute in ("12:13:30", "12:15"):
        await house.go(f"2026-01-10 {minute}")
    assert titles(house) == [TITLE, "Your schedule is not back yet"]
    assert "could not reach the inverter, and nothing was written" in house.told[1]["message"]
    await house.bench.gateway(down=False)
    for minute in ("12:17", "12:21", "12:30", "12:45"):
        await house.go(f"2026-01-10 {minute}")
    assert await held(house.bench) == WANTED
    assert titles(house)[2:] == ["Your schedule is back"]


async def test_a_put_back_that_does_not_take_is_told_and_not_repeated(move_in: MoveIn) -> None:
    house = await watched(move_in, **PUT_BACK)
    house.hurry()
    await other_hand(house, "12:03")
    await house.bench.fault("write_ignored", count=None)
    await house.go("2026-01-10 12:14")
    writes = await house.writes()
    assert titles(house) == [TITLE, "Your schedule could not be put back"]
    assert "The change did not take" in house.told[1]["message"]
    assert "charge 03:00–03:30 500 W to 100 %" in house.told[1]["message"]
    for hour in range(13, 20):
        await house.go(f"2026-01-10 {hour}:00")
    assert await house.writes() == writes
    assert len(house.told) == 2
    assert status(house.hass) == "changed_elsewhere"


async def test_a_change_made_while_nobody_listened_is_told_within_a_quarter_of_an_hour(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 12:00")
    await act(house.hass, house.entry, "apply_schedule", charge=TONIGHT)
    await house.go("2026-01-10 12:01")
    await other_hand(house, "12:03")
    await house.automate("changed_elsewhere", **PUT_BACK)
    await house.go("2026-01-10 12:15:30")
    assert titles(house) == [TITLE]
    await house.go("2026-01-10 12:27")
    assert await held(house.bench) == WANTED


@pytest.mark.parametrize("action", ["CHARGEHAND_other_KEEP_1", "SILENCE"])
async def test_buttons_of_others_are_none_of_its_business(move_in: MoveIn, action: str) -> None:
    house = await watched(move_in, notify=TELL)
    await other_hand(house, "12:03")
    house.hass.bus.async_fire("mobile_app_notification_action", {"action": action})
    await house.settle()
    assert titles(house) == [TITLE]
    assert status(house.hass) == "changed_elsewhere"


async def test_no_message_promises_buttons_that_a_notification_may_not_have(move_in: MoveIn) -> None:
    house = await watched(move_in, **PUT_BACK)
    await other_hand(house, "12:03")
    assert "in the repair under Settings" in house.told[0]["message"]
    assert "button" not in house.told[0]["message"]


async def test_who_keeps_it_while_the_line_is_down_does_not_get_his_own_back_later(move_in: MoveIn) -> None:
    house = await watched(move_in, **PUT_BACK)
    await other_hand(house, "12:03")
    await house.bench.gateway(down=True)
    for minute in ("12:13:30", "12:15"):
        await house.go(f"2026-01-10 {minute}")
    await press(house, "Keep it")
    assert titles(house)[2:] == ["The other schedule is not kept yet"]
    assert [one["title"] for one in house.told[2]["buttons"]] == ["Keep it", "Put mine back now"]
    await house.bench.gateway(down=False)
    for minute in ("12:17", "12:25", "13:20"):
        await house.go(f"2026-01-10 {minute}")
    assert await held(house.bench) == THEIRS
    assert len(house.told) == 3


async def test_a_schedule_that_is_not_back_within_the_hour_is_told(move_in: MoveIn) -> None:
    house = await watched(move_in, **PUT_BACK)
    await other_hand(house, "12:03")
    await house.bench.gateway(down=True)
    for minute in ("12:13:30", "12:15", "12:50", "13:14", "13:20"):
        await house.go(f"2026-01-10 {minute}")
    assert titles(house) == [TITLE, "Your schedule is not back yet", "Your schedule could not be put back"]
