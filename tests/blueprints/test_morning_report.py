"""Morning report: what the user is told of the night, from each source and for each reason.

What came of a night is set by hand here, in the shape in which it is kept.
"""

from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import Any

import pytest
from homeassistant.exceptions import HomeAssistantError
from homeassistant.helpers import device_registry as dr
from homeassistant.helpers import entity_registry as er

from custom_components.chargehand.nights.nights import Night, Outcome
from tests.actions.test_plan_charge import BATTERY, TARIFF
from tests.bench.teasel import CHARGE
from tests.blueprints.conftest import MoveIn
from tests.blueprints.house import MovedHouse, london
from tests.calls import act, state
from tests.teasel import INPUT_AT, registers

NIGHT = {
    "night": "2026-01-10", "planned_level": 90, "level_reached": 89.6, "grid_charge_kwh": 6.13, "cost": 0.674, "why": None,
}  # fmt: skip
WINDOW = {"start": "01:00", "end": "05:00", "power": 3000, "stop_level": 90}


async def last_night(house: MovedHouse, saving: str = "1.234", **changed: Any) -> None:
    """Let this be kept of the night, in the place of what Chargehand keeps; `unavailable`: nothing is."""
    house.hass.config.currency = "GBP"
    nights = house.entry.runtime_data.nights
    if saving == "unavailable":
        nights.nights = []
        return
    night = NIGHT | changed
    outcome = Outcome(
        windows=1,
        level_reached=night["level_reached"],
        grid_charge_kwh=night["grid_charge_kwh"],
        cost=night["cost"],
        saving=None if saving == "unknown" else float(saving),
    )
    evening = date.fromisoformat(night["night"])
    (planned,) = [one for one in nights.nights if one.evening == evening] or [planned_for(evening, night)]
    # Without figures, nothing more is calculated of it.
    nights.nights = [one for one in nights.nights if one is not planned]
    nights.nights.append(replace(planned, target_level=night["planned_level"], outcome=outcome, figures=None))


def planned_for(evening: date, night: dict[str, Any]) -> Night:
    """Return the night of a plan that was not made here."""
    begins = london(f"{evening + timedelta(days=1)} 01:00")
    return Night(
        planned_at=begins - timedelta(hours=2),
        start=begins - timedelta(hours=2),
        begins=begins,
        ends=begins + timedelta(hours=4),
        evening=evening,
        day=evening + timedelta(days=1),
        level=40,
        target_level=night["planned_level"],
        windows=(WINDOW,),
        load_kwh=None,
        solar_kwh=0,
        forecast_kwh=None,
        grid_charge_kwh=None,
        saving=None,
        why=night["why"] or "",
        basis={},
        figures=None,
    )


async def set_for_the_night(house: MovedHouse, **changed: Any) -> None:
    await act(house.hass, house.entry, "apply_schedule", charge=[WINDOW | changed])


async def morning(house: MovedHouse, at: str = "2026-01-11 07:00:20") -> None:
    """Through the night; the level of a minute before the end, and of the end, has been read."""
    for moment in (
        "2026-01-11 01:01",
        "2026-01-11 04:59",
        "2026-01-11 05:00:30",
        "2026-01-11 05:02",
        "2026-01-11 06:59",
    ):
        if moment < at:
            await house.go(moment)
    await house.go(at)


async def test_a_night_that_went_well_is_told_with_its_figures(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 22:30", level=40)
    await set_for_the_night(house)
    await house.automate("morning_report")
    await last_night(house)
    await morning(house)
    assert house.told == [
        {
            "title": "Last night's charge",
            "message": "90 % reached of 90 % planned. 6.1 kWh came from the grid and cost 0.67 GBP. That saved 1.23 GBP.",
        }
    ]


async def test_what_the_night_sensor_lacks_is_not_made_up(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 22:30", level=40)
    await set_for_the_night(house)
    await house.automate("morning_report")
    await last_night(house, "unknown", cost=None)
    await morning(house)
    (told,) = house.told
    assert told["message"] == "90 % reached of 90 % planned. 6.1 kWh came from the grid. What it cost is not known."


async def plan(house: MovedHouse, **given: Any) -> str:
    """Have a plan made, and return its sentence."""
    options = {**house.entry.options, "battery": BATTERY, "tariff": TARIFF}
    house.hass.config_entries.async_update_entry(house.entry, options=options)
    await house.hass.async_block_till_done()
    answer = await act(house.hass, house.entry, "plan_charge", **given)
    assert isinstance(answer["why"], str)
    return answer["why"]


async def test_until_the_saving_is_calculated_the_expected_one_of_that_plan_is_told(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 22:30", level=40)
    why = await plan(house, load_kwh=9, solar_kwh=0)
    await set_for_the_night(house)
    await house.automate("morning_report")
    await last_night(house, "unknown", why=why)
    await morning(house)
    (told,) = house.told
    expected = float(state(house.hass, "sensor", "expected_saving").state)
    assert (
        f"It was expected to save {expected:.2f} GBP; the actual saving is known when the day is over."
        in told["message"]
    )
    assert told["message"].endswith(f"The plan was: {why}")
    await last_night(house, "unknown", night="2026-01-11", why="Another plan.")
    await house.go("2026-01-12 06:59")
    await house.go("2026-01-12 07:00:20")
    assert "expected" not in house.told[1]["message"]


async def test_a_night_for_which_no_charge_was_planned_is_not_short(move_in: MoveIn) -> None:
    house = await move_in("2026-07-10 22:30", level=80, load=500)
    why = await plan(house, load_kwh=4, solar_kwh=25)
    await act(house.hass, house.entry, "apply_schedule", charge=[], armed=False)
    await house.automate("morning_report")
    nothing = {"planned_level": 80, "level_reached": 43.2, "grid_charge_kwh": 0.0, "cost": 0.0}
    await last_night(house, "unknown", night="2026-07-10", why=why, **nothing)
    await house.go("2026-07-11 06:59")
    await house.go("2026-07-11 07:00:20")
    (told,) = house.told
    assert told["title"] == "Last night's charge"
    assert told["message"] == (
        f"No charge was planned for the night; the battery was at 43 % at its end. The plan was: {why}"
    )


async def test_a_good_night_is_not_told_when_only_short_ones_are_wanted(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 22:30", level=40)
    await set_for_the_night(house)
    await house.automate("morning_report", which="short")
    await last_night(house)
    await morning(house)
    assert house.told == []
    await last_night(house, night="2026-01-11", level_reached=60)
    await house.go("2026-01-12 06:59")
    await house.go("2026-01-12 07:00:20")
    assert [one["title"] for one in house.told] == ["The battery is lower than planned"]


async def test_the_night_that_chargehand_keeps_is_told(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 22:30", level=25, load=250)
    why = await plan(house, load_kwh=6, solar_kwh=0, apply=True)
    await house.automate("morning_report")
    (window,) = state(house.hass, "sensor", "planned_level").attributes["windows"]
    # What comes in is calculated from the level at both ends.
    for end in (window["start"], window["end"]):
        for minute in (-1, 1, 2):
            await house.go(london(f"2026-01-{10 if end > '12' else 11} {end}") + timedelta(minutes=minute))
    await house.go("2026-01-11 06:59")
    await house.go("2026-01-11 07:00:20")
    (told,) = house.told
    planned = float(state(house.hass, "sensor", "planned_level").state)
    assert told["message"].startswith(f"{planned:.0f} % reached of {planned:.0f} % planned. ")
    assert " kWh came from the grid and cost " in told["message"]
    assert told["message"].endswith(f"The plan was: {why}")


@pytest.mark.parametrize("other", ["missing", "unavailable", "of another night"])
async def test_without_the_nights_sensor_the_calendar_tells_what_was_reached(move_in: MoveIn, other: str) -> None:
    house = await move_in("2026-01-10 22:30", level=40, load=2000)
    await set_for_the_night(house)
    await house.automate("morning_report")
    if other == "unavailable":
        await last_night(house, "unavailable")
    elif other == "of another night":
        await last_night(house, night="2026-01-09")
    await morning(house)
    await house.go("2026-01-11 07:03")
    (told,) = house.told
    # Two hours of the morning's use after the end are not in it.
    assert await house.level() < 70
    assert told["title"] == "Last night's charge"
    assert (
        told["message"] == "90 % reached of 90 % planned. How much came from the grid, and what it cost, is not known."
    )


async def test_without_a_level_at_the_end_the_stop_level_and_the_level_now_are_told(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 22:30", level=40)
    await set_for_the_night(house)
    await house.automate("morning_report")
    await house.go("2026-01-11 01:01")
    await house.go("2026-01-11 03:00")
    await house.bench.gateway(down=True)
    for moment in ("2026-01-11 03:05", "2026-01-11 05:00:30", "2026-01-11 05:15"):
        await house.go(moment)
    await house.bench.gateway(down=False)
    await house.go("2026-01-11 06:58")
    await house.go("2026-01-11 07:00:20")
    (told,) = house.told
    assert told["message"].startswith("The battery is at ")
    assert " % now; 90 % was planned." in told["message"]


async def test_at_the_end_of_the_window_it_is_told_once(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 22:30", level=40)
    two = [WINDOW | {"end": "02:00"}, WINDOW | {"start": "03:00"}]
    await act(house.hass, house.entry, "apply_schedule", charge=two)
    await house.automate("morning_report", moment="ends")
    await house.go("2026-01-11 01:01")
    for moment in ("2026-01-11 01:59", "2026-01-11 02:01:30", "2026-01-11 03:01:30", "2026-01-11 04:59"):
        await house.go(moment)
    assert house.told == [], "another window of this night is to come"
    await house.go("2026-01-11 05:01:30")
    (told,) = house.told
    assert told["message"].startswith("90 % reached of 90 % planned.")
    await house.go("2026-01-11 07:00:20")
    assert len(house.told) == 1


@pytest.mark.parametrize("known", [True, False])
async def test_a_night_that_ends_a_little_later_than_its_window_is_waited_for_two_minutes(
    move_in: MoveIn, known: bool
) -> None:
    house = await move_in("2026-01-10 22:30", level=40)
    await set_for_the_night(house)
    await house.automate("morning_report", moment="ends")
    await last_night(house)
    nights = house.entry.runtime_data.nights
    (whole,) = nights.nights
    nights.nights = [replace(whole, outcome=None, ends=london("2026-01-11 05:02"))]
    for moment in ("2026-01-11 01:01", "2026-01-11 04:59", "2026-01-11 05:00:30", "2026-01-11 05:01:15"):
        await house.go(moment)
    assert house.told == [], "the plan's night is not over"
    if known:
        await last_night(house)
    await house.go("2026-01-11 05:02:20")
    assert len(house.told) == known
    await house.go("2026-01-11 05:05")
    (told,) = house.told
    assert told["message"].startswith("90 % reached of 90 % planned.")
    assert ("6.1 kWh came from the grid" in told["message"]) is known


async def test_a_night_without_a_charge_is_told_at_the_time_at_the_latest(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 22:30", level=40)
    await act(house.hass, house.entry, "apply_schedule", charge=[], armed=False)
    await house.automate("morning_report", moment="ends")
    await morning(house)
    (told,) = house.told
    assert told["title"] == "Last night's charge"
    assert told["message"].startswith("No charge is known for the night; the battery is at ")


async def test_a_restart_at_that_time_does_not_lose_the_report(move_in: MoveIn) -> None:
    house = await move_in("2026-01-11 08:30", level=88)
    await last_night(house)
    await house.start_with("morning_report")
    assert len(house.told) == 1


# ---- short, and why


async def short(house: MovedHouse, **night: Any) -> str:
    """The next morning's message."""
    await house.automate("morning_report", which="short")
    if night:
        await last_night(house, **night)
    await morning(house)
    (told,) = house.told
    assert told["title"] == "The battery is lower than planned"
    assert told["message"].count("Why: ") == 1
    return told["message"]


async def test_short_because_another_hand_changed_the_schedule(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 22:30", level=20)
    await set_for_the_night(house)
    theirs = registers("03:00", "03:30", 500, 90)
    await house.bench.logger_overwrite(CHARGE[0].start, theirs, at=datetime.fromisoformat("2026-01-10 23:00"))
    message = await short(house)
    assert "Why: the schedule was changed elsewhere: charge window 1 now 03:00–03:30 at 500 W to 90 %" in message


async def test_short_because_the_window_was_too_short(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 22:30", level=20)
    await set_for_the_night(house, start="03:00", end="04:00")
    message = await short(house, level_reached=48, grid_charge_kwh=3.1)
    assert message.startswith("48 % reached of 90 % planned. 3.1 kWh came from the grid")
    assert "Why: 03:00–04:00 at 3000 W was too short for that charge." in message


async def test_short_because_the_battery_took_less(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 22:30", level=20)
    await set_for_the_night(house)
    message = await short(house, level_reached=48, grid_charge_kwh=3.1)
    assert "Why: the battery accepted less than the limit of 01:00–05:00 at 3000 W" in message


async def test_short_and_only_the_night_itself_is_known(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 22:30", level=20)
    await set_for_the_night(house, start="03:00", end="03:30", power=1000)
    message = await short(house)
    assert "so 03:00–03:30 at 1000 W was too short, or the battery accepted less" in message


async def test_short_because_the_clock_is_off(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 22:30", level=20)
    await set_for_the_night(house, start="02:00", end="05:00")
    await house.bench.clock(datetime.fromisoformat("2026-01-10 19:30"))
    message = await short(house, level_reached=60)
    assert "Why: the inverter's clock is 180 min behind, and its windows run on that." in message


async def test_short_because_nothing_is_armed(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 22:30", level=20)
    await act(house.hass, house.entry, "apply_schedule", charge=[WINDOW], armed=False)
    message = await short(house, level_reached=19, grid_charge_kwh=0.0, cost=0.0)
    assert "Why: the inverter's windows are not armed." in message


async def test_short_because_the_new_schedule_did_not_take(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 22:30", level=20)
    house.hurry()
    await set_for_the_night(house, stop_level=50)
    await house.bench.fault("write_ignored", count=None)
    with pytest.raises(HomeAssistantError, match="did not take"):
        await set_for_the_night(house)
    message = await short(house, level_reached=50)
    assert "Why: the inverter kept its earlier schedule: the change did not take" in message


async def test_short_because_it_stops_too_early(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 22:30", level=20)
    await set_for_the_night(house, stop_level=50)
    assert "Why: the inverter's charge stops at 50 % already." in await short(house, level_reached=50)


async def test_short_and_an_alarm_stands(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 22:30", level=20)
    await set_for_the_night(house)
    await house.bench.set(INPUT_AT["alarms"], [0, 2], table="input")
    assert "Why: the inverter reports: Battery too cold." in await short(house, level_reached=40)


async def test_a_schedule_that_is_not_proven_is_named(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 22:30", level=20)
    house.hurry()
    await set_for_the_night(house, stop_level=50)
    # Half of the change is undone at each of its three tries, and then half of putting back the earlier one.
    await house.bench.fault("overwrite", only="write", count=3, address=CHARGE[0].start, value=100)
    await house.bench.fault("overwrite", only="write", nth=4, count=None, address=CHARGE[0].stop_level, value=90)
    with pytest.raises(HomeAssistantError, match="could not prove"):
        await set_for_the_night(house, start="01:15", stop_level=90)
    assert "it is not proven which schedule the inverter holds" in await short(house, level_reached=50)


async def test_an_inverter_that_is_away_in_the_morning_is_told(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 22:30", level=40)
    await set_for_the_night(house)
    await house.automate("morning_report", which="short")
    await house.go("2026-01-11 01:01")
    await house.bench.gateway(down=True)
    await morning(house)
    (told,) = house.told
    assert told["title"] == "The battery's level is not known"
    assert told["message"] == "Neither the level nor what was planned is known. Why: the inverter does not answer."


async def test_the_level_is_the_batterys_and_not_another_reading_of_its_class(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 22:30", level=40)
    await set_for_the_night(house)
    (device,) = dr.async_entries_for_config_entry(dr.async_get(house.hass), house.entry.entry_id)
    registry = er.async_get(house.hass)
    other = registry.async_get_or_create(
        "sensor", "chargehand", "T5-AM-2611-0042_a_remote", config_entry=house.entry, device_id=device.id,
        suggested_object_id="a_remote",
    )  # fmt: skip
    house.hass.states.async_set(other.entity_id, "3", {"device_class": "battery", "unit_of_measurement": "%"})
    await act(house.hass, house.entry, "apply_schedule", charge=[], armed=False)
    await house.automate("morning_report")
    await morning(house)
    assert "is at 3 %" not in house.told[0]["message"]
