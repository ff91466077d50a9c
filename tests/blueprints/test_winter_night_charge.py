"""Winter night charge: the level in the morning, and what the user was told.

What `plan_charge` calculates is a stand-in here, put in its place by `calculate_with`: in the shape of the answer, and nothing computed.
"""

from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

import pytest
from homeassistant.helpers import device_registry as dr
from homeassistant.helpers import entity_registry as er
from homeassistant.util import dt as dt_util

from tests.bench.teasel import CHARGE, CONTROL_WORD
from tests.blueprints.conftest import MoveIn
from tests.blueprints.house import MovedHouse
from tests.teasel import held, registers

HOURS = {"window_start": "01:00:00", "window_end": "05:00:00"}
FIXED = {"way": "fixed", "fixed_level": 90, "lowest": 50, "limit": 3000} | HOURS
HELD = registers("01:00", "05:00", 3000, 90)


def plan(target: float, *windows: dict[str, Any]) -> dict[str, Any]:
    """What `plan_charge` answers, as far as the blueprint reads it."""
    return {
        "target_level": target,
        "windows": list(windows),
        "grid_charge_kwh": 3.0 if windows else 0.0,
        "why": "Tomorrow is dark and expensive.",
        "basis": {"load_days": 14, "solar": "history", "fallback": False},
    }


def by_night(noon: str, first: dict[str, Any], second: dict[str, Any]) -> Callable[[], dict[str, Any]]:
    """The first answer until a noon (UTC), the second after it: a plan may be asked for more than once a night."""
    until = datetime.fromisoformat(noon).replace(tzinfo=UTC)
    return lambda: first if dt_util.utcnow() < until else second


NIGHT_WINDOW = {"start": "02:00", "end": "04:30", "power": 4000, "stop_level": 70}


async def night(house: MovedHouse, day: str) -> None:
    """From before the plan to the end of the cheap hours, which are all of one day.

    Not past 00:31 at once: from then on a plan is made up for that was not made in time.
    """
    for moment in (f"{day} 00:29:50", f"{day} 00:30:30"):
        await house.go(moment)
    await wake(house, day)


async def wake(house: MovedHouse, morning: str) -> None:
    """To just after the end of the cheap hours; the level of a minute before has been read."""
    await house.go(f"{morning} 04:59")
    await house.go(f"{morning} 05:00:30")


async def test_a_week_in_january_is_written_once_and_full_every_morning(move_in: MoveIn) -> None:
    house = await move_in("2026-01-11 00:20", level=40, load=300)
    await house.automate("winter_night_charge", **FIXED)
    for day in range(11, 18):
        await night(house, f"2026-01-{day}")
        assert await house.level() == pytest.approx(90, abs=1)
    assert await house.writes() == 1
    assert await held(house.bench) == HELD
    assert house.told == []


async def test_a_week_in_july_is_switched_off_once_and_told_once(move_in: MoveIn) -> None:
    house = await move_in("2026-07-11 00:20", level=60, load=300)
    await house.automate("winter_night_charge", **FIXED)
    for day in range(11, 18):
        before = await house.level()
        await night(house, f"2026-07-{day}")
        assert await house.level() <= before
        await house.bench.battery(level=60)
    assert await house.writes() == 1
    assert await house.bench.registers("holding", CONTROL_WORD) == [0]
    assert [one["title"] for one in house.told] == ["The night charge is switched off"]


@pytest.mark.parametrize(
    ("start", "morning", "begin", "planned", "level"),
    [
        # The inverter's clock knows no summer time: its hours end at 04:00 by the house's, and an hour is lived on the battery.
        ("2026-10-24 22:50", "2026-10-25", "00:20:00", "2026-10-24 23:50:30", 88),
        ("2026-03-28 22:50", "2026-03-29", "00:20:00", "2026-03-28 23:50:30", 90),
        ("2026-03-28 22:50", "2026-03-29", "01:45:00", "2026-03-29 03:01", 90),
        ("2028-02-28 22:00", "2028-02-29", "22:40:00", "2028-02-28 22:10:30", 90),
        ("2028-02-29 22:00", "2028-03-01", "22:40:00", "2028-02-29 22:10:30", 90),
    ],
    ids=["clocks back", "clocks forward", "no such minute that night", "before the leap day", "after the leap day"],
)
async def test_odd_nights_reach_the_level(
    move_in: MoveIn, start: str, morning: str, begin: str, planned: str, level: float
) -> None:
    house = await move_in(start, level=45, load=200)
    await house.bench.set(CONTROL_WORD, [0])
    await house.automate("winter_night_charge", **(FIXED | {"window_start": begin, "limit": 5000}))
    await house.go(planned)
    hour, minute = map(int, begin.split(":")[:2])
    assert await held(house.bench) == [hour * 100 + minute, 5000, 90, 500]
    await wake(house, morning)
    assert await house.level() == pytest.approx(level, abs=1)
    assert house.told == []


async def test_an_inverter_that_is_away_at_planning_is_tried_again_until_it_takes(move_in: MoveIn) -> None:
    house = await move_in("2026-01-11 00:20", level=40)
    await house.automate("winter_night_charge", **FIXED)
    await house.bench.gateway(down=True)
    for minute in ("00:30:30", "00:32", "00:35"):
        await house.go(f"2026-01-11 {minute}")
    await house.bench.gateway(down=False)
    for minute in ("00:38", "00:46"):
        await house.go(f"2026-01-11 {minute}")
    assert await held(house.bench) == HELD
    await wake(house, "2026-01-11")
    assert await house.level() == pytest.approx(90, abs=1)
    assert house.told == []


async def test_an_inverter_that_is_away_when_the_hours_begin_is_told_and_tried_on(move_in: MoveIn) -> None:
    house = await move_in("2026-01-11 00:20", level=40)
    await house.automate("winter_night_charge", **FIXED)
    await house.bench.gateway(down=True)
    for minute in ("00:30:30", "00:32", "00:35", "00:38", "00:46", "00:59:30", "01:01:30", "01:03"):
        await house.go(f"2026-01-11 {minute}")
    (told,) = house.told
    assert told["title"] == "The night charge is not on the inverter"
    assert "Chargehand could not reach the inverter, and nothing was written: " in told["message"]
    assert "could not be read" in told["message"]
    await house.bench.gateway(down=False)
    await house.go("2026-01-11 02:00")
    assert "worked after" in house.told[1]["message"]
    await wake(house, "2026-01-11")
    assert await house.level() == pytest.approx(90, abs=1)
    assert len(house.told) == 2


async def test_a_write_that_does_not_take_is_told_with_what_the_inverter_holds(move_in: MoveIn) -> None:
    house = await move_in("2026-01-11 00:20", level=40)
    house.hurry()
    await house.automate("winter_night_charge", **FIXED)
    await house.bench.fault("write_ignored", count=None)
    for minute in ("00:30:30", "00:32", "00:35", "00:38", "00:46", "00:59:30", "01:01:30"):
        await house.go(f"2026-01-11 {minute}")
    (told,) = house.told
    assert "did not take" in told["message"]
    assert "charge 22:40–02:20 2000 W to 100 %; discharge never; armed" in told["message"]


async def test_a_refusal_is_told_with_its_reason(move_in: MoveIn) -> None:
    house = await move_in("2026-01-11 00:20", level=40)
    await house.bench.battery(temperature=-5)
    await house.go("2026-01-11 00:25")
    await house.automate("winter_night_charge", **FIXED)
    for minute in ("00:30:30", "00:32", "00:35", "00:38", "00:46", "00:59:30", "01:01:30"):
        await house.go(f"2026-01-11 {minute}")
    (told,) = house.told
    assert "the battery is at -5 °C and must not be charged below 0 °C" in told["message"]
    assert "charge 22:40–02:20 2000 W to 100 %; discharge never; armed" in told["message"]


async def test_no_plan_falls_back_to_the_fixed_level_and_says_so(move_in: MoveIn) -> None:
    house = await move_in("2026-01-11 00:20", level=40)
    house.calculate_with(None)
    await house.automate("winter_night_charge", **(FIXED | {"way": "planned"}))
    await night(house, "2026-01-11")
    assert await house.level() == pytest.approx(90, abs=1)
    (told,) = house.told
    assert told["title"] == "Night charge without a plan"
    assert "fixed level" in told["message"]


async def test_the_planned_level_is_charged_to_and_never_less_than_the_lowest(move_in: MoveIn) -> None:
    house = await move_in("2026-01-11 00:20", level=40)
    house.calculate_with(by_night("2026-01-11 12:00", plan(70, NIGHT_WINDOW), plan(15)))
    await house.automate("winter_night_charge", **(FIXED | {"way": "planned", "tell_plan": True}))
    await night(house, "2026-01-11")
    assert await house.level() == pytest.approx(70, abs=1)
    assert "dark and expensive" in house.told[0]["message"]
    await house.bench.battery(level=30)
    await night(house, "2026-01-12")
    assert await house.level() == pytest.approx(50, abs=1)


async def test_planned_hours_are_taken_with_the_lower_limit(move_in: MoveIn) -> None:
    house = await move_in("2026-06-11 00:20", level=40)
    house.calculate_with(by_night("2026-06-11 12:00", plan(70, NIGHT_WINDOW), plan(40)))
    await house.automate("winter_night_charge", **(FIXED | {"way": "planned_hours", "when": "pays"}))
    await house.go("2026-06-11 00:29:50")
    await house.go("2026-06-11 00:30:20")
    assert await held(house.bench) == registers("02:00", "04:30", 3000, 70)
    await house.go("2026-06-11 04:29")
    assert await house.level() == pytest.approx(70, abs=1)
    await house.go("2026-06-12 00:29:50")
    await house.go("2026-06-12 00:30:20")
    assert await house.bench.registers("holding", CONTROL_WORD) == [0], "it does not pay"
    assert [one["title"] for one in house.told] == ["The night charge is switched off"]


async def test_a_restart_within_the_hours_does_not_lose_the_night(move_in: MoveIn) -> None:
    house = await move_in("2026-01-11 01:20", level=40)
    await house.bench.set(CONTROL_WORD, [0])
    await house.start_with("winter_night_charge", **FIXED)
    await house.go("2026-01-11 01:21")
    assert await house.bench.registers("holding", CONTROL_WORD) == [1]
    await wake(house, "2026-01-11")
    assert await house.level() == pytest.approx(90, abs=1)
    assert house.told == []


async def test_a_start_by_day_does_nothing(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 12:00", level=40)
    await house.start_with("winter_night_charge", **FIXED)
    assert await house.writes() == 0


async def test_a_clock_that_is_off_is_set_before(move_in: MoveIn) -> None:
    house = await move_in("2026-01-11 00:20", level=40)
    await house.bench.clock(datetime.fromisoformat("2026-01-11 00:00"))
    await house.automate("winter_night_charge", **FIXED)
    await house.go("2026-01-11 00:25")
    await night(house, "2026-01-11")
    clock = await house.bench.clock()
    assert clock["clock"].startswith("2026-01-11T05:00")
    assert await house.level() == pytest.approx(90, abs=1)
    assert house.told == []


async def test_a_data_logger_that_puts_its_own_back_is_named_in_the_morning(move_in: MoveIn) -> None:
    house = await move_in("2026-01-11 00:20", level=20)
    await house.automate("winter_night_charge", **(FIXED | {"limit": 1000}))
    theirs = registers("03:00", "03:30", 500, 100)
    await house.bench.logger_overwrite(CHARGE[0].start, theirs, at=datetime.fromisoformat("2026-01-11 01:30"))
    await house.go("2026-01-11 00:30:30")
    await house.go("2026-01-11 01:30:10")
    await house.go("2026-01-11 01:35")
    await wake(house, "2026-01-11")
    assert await house.level() < 50
    (told,) = house.told
    assert told["title"] == "The battery is lower than it should be"
    assert "was changed elsewhere: charge window 1 now 03:00–03:30 at 500 W to 100 % (was 01:00–" in told["message"]
    assert "charge 03:00–03:30 500 W to 100 %" in told["message"]


async def test_another_reading_of_the_levels_class_is_not_taken_for_the_level(move_in: MoveIn) -> None:
    house = await move_in("2026-01-11 00:20", level=40)
    (device,) = dr.async_entries_for_config_entry(dr.async_get(house.hass), house.entry.entry_id)
    other = er.async_get(house.hass).async_get_or_create(
        "sensor", "chargehand", "T5-AM-2611-0042_a_remote", config_entry=house.entry, device_id=device.id,
        suggested_object_id="a_remote",
    )  # fmt: skip
    house.hass.states.async_set(other.entity_id, "3", {"device_class": "battery", "unit_of_measurement": "%"})
    await house.automate("winter_night_charge", **FIXED)
    await night(house, "2026-01-11")
    assert await house.level() == pytest.approx(90, abs=1)
    assert house.told == []
