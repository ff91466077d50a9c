"""Battery room guard: what the inverter holds, and what the user was told."""

from dataclasses import replace
from typing import Any

import pytest
import voluptuous as vol
from homeassistant.components.automation import automations_with_device
from homeassistant.components.automation.config import ValidationStatus, async_validate_config_item
from homeassistant.components.persistent_notification import async_register_callback
from homeassistant.const import STATE_UNAVAILABLE
from homeassistant.setup import async_setup_component

from tests.bench.teasel import CONTROL_WORD
from tests.blueprints.conftest import MoveIn
from tests.blueprints.house import TELL, MovedHouse
from tests.calls import act, device_id
from tests.teasel import FACTORY, held, registers

SMOKE = "binary_sensor.cellar_smoke"
ATTIC = "binary_sensor.attic_smoke"
ROOM = "sensor.cellar_temperature"
ARMED, DISARMED = [1], [0]
INPUTS = {"smoke": [SMOKE, ATTIC], "temperatures": [ROOM], "low": 2, "high": 40, "hysteresis": 2, "minutes": 10}
WELL = "The battery room is back to normal"


async def smoke(house: MovedHouse, value: str, entity: str = SMOKE, *, settle: bool = True) -> None:
    name = entity.split(".")[1].replace("_", " ").capitalize()
    house.hass.states.async_set(entity, value, {"device_class": "smoke", "friendly_name": name})
    if settle:
        await house.settle()


async def room(house: MovedHouse, value: float | str) -> None:
    attributes = {"device_class": "temperature", "friendly_name": "Cellar", "unit_of_measurement": "°C"}
    house.hass.states.async_set(ROOM, str(value), attributes)
    await house.settle()


async def guarded(move_in: MoveIn, **inputs: Any) -> MovedHouse:
    """A house at noon whose battery room is well; the inverter is armed as it left the factory."""
    house = await move_in("2026-01-10 12:01")
    await smoke(house, "off")
    await smoke(house, "off", ATTIC)
    await room(house, 15)
    await house.automate("battery_room_guard", **(INPUTS | inputs))
    await house.go("2026-01-10 12:02:30")
    assert house.told == []
    return house


async def at(house: MovedHouse, time: str) -> None:
    await house.go(f"2026-01-10 {time}")


async def armed(house: MovedHouse) -> list[int]:
    return await house.bench.registers("holding", CONTROL_WORD)


async def windows(house: MovedHouse) -> list[int]:
    return await held(house.bench)


def titles(house: MovedHouse) -> list[str]:
    return [one["title"] for one in house.told]


async def test_smoke_disarms_at_once_keeps_the_windows_and_tells(move_in: MoveIn) -> None:
    house = await guarded(move_in)
    await smoke(house, "on")
    assert await armed(house) == DISARMED
    assert await windows(house) == FACTORY
    assert titles(house) == ["Smoke in the battery room", "Charging is disarmed"]
    assert "Cellar smoke" in house.told[0]["message"]
    assert "call the fire service" in house.told[0]["message"]
    assert "shows that no charge window is active. Its windows stay." in house.told[1]["message"]
    assert await house.writes() == 1


async def test_a_second_alarm_is_told_and_one_told_before_is_not(move_in: MoveIn) -> None:
    house = await guarded(move_in)
    await smoke(house, "on")
    await at(house, "12:04")
    await smoke(house, "on", ATTIC)
    assert titles(house)[2:] == ["Smoke in the battery room"]
    assert "Attic smoke" in house.told[2]["message"]
    assert "already disarmed" in house.told[2]["message"]
    for minute in range(5, 12):
        await smoke(house, "off" if minute % 2 else "on")
        await at(house, f"12:{minute:02}")
    assert len(house.told) == 3
    assert await house.writes() == 1


async def test_heat_disarms_after_the_minutes_and_not_before(move_in: MoveIn) -> None:
    house = await guarded(move_in)
    await room(house, 43.5)
    await at(house, "12:12")
    assert await armed(house) == ARMED
    assert house.told == []
    await at(house, "12:13")
    assert await armed(house) == DISARMED
    assert titles(house) == ["The battery room is too hot", "Charging is disarmed"]
    assert "Cellar: 43.5 °C" in house.told[0]["message"]
    assert "The limits are 2 to 40 °C." in house.told[0]["message"]


async def test_cold_disarms_and_the_battery_being_cold_does_not_hinder_it(move_in: MoveIn) -> None:
    house = await guarded(move_in)
    await house.bench.battery(temperature=-6)
    await room(house, -3)
    await at(house, "12:13")
    assert await armed(house) == DISARMED
    assert titles(house) == ["The battery room is too cold", "Charging is disarmed"]


async def test_a_temperature_that_flaps_does_nothing(move_in: MoveIn) -> None:
    house = await guarded(move_in)
    for minute in range(3, 40):
        await room(house, 43 if minute % 4 else 30)
        await at(house, f"12:{minute:02}")
    assert house.told == []
    assert await armed(house) == ARMED


async def test_smoke_does_not_wait_for_the_heat(move_in: MoveIn) -> None:
    house = await guarded(move_in)
    await room(house, 43)
    await at(house, "12:05")
    await smoke(house, "on")
    await at(house, "12:06")
    assert await armed(house) == DISARMED
    assert house.told[0]["title"] == "Smoke in the battery room"
    assert "Cellar: 43 °C" in house.told[0]["message"]


async def test_it_is_well_again_only_inside_the_hysteresis_and_for_the_minutes(move_in: MoveIn) -> None:
    house = await guarded(move_in)
    await room(house, 43)
    await at(house, "12:13")
    await room(house, 39)
    await at(house, "12:40")
    assert WELL not in titles(house), "39 is not far enough below 40"
    await room(house, 37.5)
    await at(house, "12:45")
    await room(house, 41)
    await at(house, "12:46")
    await room(house, 37)
    await at(house, "12:55")
    assert WELL not in titles(house)
    await at(house, "12:57")
    assert titles(house)[2:] == [WELL]
    assert "Cellar: 37 °C" in house.told[2]["message"]
    assert "not armed, and stays so until you arm it." in house.told[2]["message"]
    assert await armed(house) == DISARMED
    assert await house.writes() == 1


async def test_charging_is_armed_again_where_that_was_chosen(move_in: MoveIn) -> None:
    house = await guarded(move_in, rearm=True)
    await smoke(house, "on")
    await at(house, "12:03")
    await smoke(house, "off")
    await at(house, "12:12")
    assert await armed(house) == DISARMED
    await at(house, "12:14")
    assert await armed(house) == ARMED
    assert await windows(house) == FACTORY
    assert titles(house)[2:] == [WELL]
    assert "armed again, and it was read back" in house.told[2]["message"]


async def test_what_was_not_armed_before_is_not_armed_after(move_in: MoveIn) -> None:
    house = await guarded(move_in, rearm=True)
    await act(house.hass, house.entry, "apply_schedule", armed=False)
    writes = await house.writes()
    await smoke(house, "on")
    await at(house, "12:03")
    await smoke(house, "off")
    await at(house, "12:14")
    assert titles(house) == ["Smoke in the battery room", "There was no charge to disarm", WELL]
    assert await armed(house) == DISARMED
    assert await house.writes() == writes


async def test_a_charge_that_is_armed_while_it_is_not_well_is_disarmed_again(move_in: MoveIn) -> None:
    house = await guarded(move_in)
    await smoke(house, "on")
    await at(house, "12:04")
    await act(house.hass, house.entry, "apply_schedule", charge=[{"start": "01:00", "end": "04:00", "power": 3000}])
    await house.settle()
    assert await armed(house) == DISARMED
    assert await windows(house) == registers("01:00", "04:00", 3000, 100)
    assert titles(house)[2:] == ["Charging was armed again and is now disarmed"]
    assert "turn this automation off first" in house.told[2]["message"]


async def test_an_inverter_that_is_away_is_tried_again_and_the_outcome_told(move_in: MoveIn) -> None:
    house = await guarded(move_in)
    await house.bench.gateway(down=True)
    await smoke(house, "on")
    assert titles(house) == ["Smoke in the battery room", "Charging could not be disarmed yet"]
    assert "could not reach the inverter, and nothing was written" in house.told[1]["message"]
    for minute in ("12:02:50", "12:03:20", "12:04:20"):
        await at(house, minute)
    assert len(house.told) == 2
    await house.bench.gateway(down=False)
    for minute in ("12:06:30", "12:08", "12:10", "12:14"):
        await at(house, minute)
    assert await armed(house) == DISARMED
    assert titles(house)[2:] == ["Charging is disarmed"]
    assert "tries." in house.told[2]["message"]


async def test_an_inverter_that_was_away_for_long_is_disarmed_as_soon_as_it_is_back(move_in: MoveIn) -> None:
    house = await guarded(move_in)
    await house.bench.gateway(down=True)
    await smoke(house, "on")
    for minute in range(3, 45):
        await at(house, f"12:{minute:02}")
    await house.bench.gateway(down=False)
    for minute in (45, 46, 47):
        await at(house, f"12:{minute:02}")
    assert await armed(house) == DISARMED


async def test_an_alarm_that_is_over_before_the_inverter_answers_is_still_followed(move_in: MoveIn) -> None:
    house = await guarded(move_in)
    await house.bench.gateway(down=True)
    await smoke(house, "on")
    await at(house, "12:03")
    await smoke(house, "off")
    await at(house, "12:04")
    await house.bench.gateway(down=False)
    for minute in range(5, 12):
        await at(house, f"12:{minute:02}")
    assert await armed(house) == DISARMED


async def test_smoke_that_stood_before_the_start_is_seen_at_once(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 12:01")
    await smoke(house, "on")
    await house.start_with("battery_room_guard", **INPUTS)
    assert await armed(house) == DISARMED


async def test_smoke_that_stood_before_it_was_switched_on_is_seen_within_a_quarter_of_an_hour(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 12:01")
    await smoke(house, "on")
    await house.automate("battery_room_guard", **INPUTS)
    await at(house, "12:15:01")
    assert await armed(house) == DISARMED


async def test_smoke_while_the_charge_is_being_armed_again_is_the_next_incident(move_in: MoveIn) -> None:
    house = await guarded(move_in, rearm=True)
    await smoke(house, "on")
    await at(house, "12:03")
    await smoke(house, "off")
    await at(house, "12:12")
    await house.bench.fault("exception", only="write", count=None)
    await at(house, "12:13:30")
    await smoke(house, "on")
    assert titles(house)[2:5] == [WELL, "Smoke in the battery room", "There was no charge to disarm"]
    assert "could not be armed again" in house.told[2]["message"]
    await house.bench.clear_faults()
    await at(house, "12:20")
    assert await armed(house) == DISARMED


async def test_an_alarm_that_falls_silent_in_the_smoke_is_not_well(move_in: MoveIn) -> None:
    house = await guarded(move_in)
    await smoke(house, "on")
    await at(house, "12:03")
    await smoke(house, STATE_UNAVAILABLE)
    await at(house, "13:00")
    assert WELL not in titles(house)
    await smoke(house, "off")
    await at(house, "13:12")
    assert WELL in titles(house)


async def test_a_silent_sensor_is_told_after_a_while_and_at_noon(move_in: MoveIn) -> None:
    house = await guarded(move_in)
    await room(house, STATE_UNAVAILABLE)
    await at(house, "12:30")
    assert house.told == []
    for minute in ("12:33:30", "12:34:30", "18:00"):
        await at(house, minute)
    (told,) = house.told
    assert told["title"] == "A sensor of the battery room is silent"
    assert "No value from Cellar." in told["message"]
    await house.go("2026-01-11 11:59")
    assert len(house.told) == 1
    await house.go("2026-01-11 12:01")
    assert len(house.told) == 2
    assert await armed(house) == ARMED


async def test_silence_is_not_told_where_that_was_chosen(move_in: MoveIn) -> None:
    house = await guarded(move_in, lost=0)
    await room(house, STATE_UNAVAILABLE)
    await at(house, "14:00")
    await house.go("2026-01-11 12:01")
    assert house.told == []


@pytest.mark.parametrize("rearm", [False, True])
async def test_windows_are_taken_off_where_nothing_disarms_and_put_back_only_by_choice(
    move_in: MoveIn, rearm: bool
) -> None:
    house = await move_in("2026-01-10 12:01", inverter="burdock")
    await smoke(house, "off")
    await act(house.hass, house.entry, "apply_schedule", charge=[{"start": "01:00", "end": "05:00", "current": 40}])
    before = await act(house.hass, house.entry, "get_schedule")
    await house.automate("battery_room_guard", smoke=[SMOKE], rearm=rearm, minutes=10)
    await smoke(house, "on")
    await at(house, "12:03")
    assert (await act(house.hass, house.entry, "get_schedule"))["charge"] == []
    assert titles(house) == ["Smoke in the battery room", "Charging is disarmed"]
    assert "its charge windows were removed" in house.told[1]["message"]
    await smoke(house, "off")
    await at(house, "12:15")
    after = await act(house.hass, house.entry, "get_schedule")
    assert after["charge"] == (before["charge"] if rearm else [])
    assert titles(house)[2:] == [WELL]


async def test_a_read_only_entry_is_told_why(move_in: MoveIn) -> None:
    house = await guarded(move_in)
    house.entry.runtime_data.allow_control = False
    await smoke(house, "on")
    await at(house, "12:10")
    assert titles(house) == ["Smoke in the battery room", "Charging could not be disarmed yet"]
    assert "Chargehand may only read this inverter" in house.told[1]["message"]
    assert await armed(house) == ARMED


async def test_an_automation_without_a_sensor_is_refused_and_told_what_is_missing(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 12:01")
    assert await async_setup_component(house.hass, "automation", {})
    await house.hass.async_add_executor_job(house._import, "battery_room_guard")
    use = {"path": "chargehand/battery_room_guard.yaml", "input": {"inverter": device_id(house.hass, house.entry)}}
    with pytest.raises(vol.Invalid, match="Choose a smoke alarm or a temperature of the room"):
        await async_validate_config_item(house.hass, "guard", {"alias": "Guard", "use_blueprint": use})
    use["input"] |= {"smoke": [SMOKE]}
    validated = await async_validate_config_item(house.hass, "guard", {"alias": "Guard", "use_blueprint": use})
    assert validated is not None
    assert validated.validation_status is ValidationStatus.OK


async def test_limits_that_leave_no_temperature_normal_are_refused(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 12:01")
    with pytest.raises(AssertionError, match="not usable"):
        await house.automate("battery_room_guard", temperatures=[ROOM], low=20, high=23, hysteresis=2)


async def test_the_automation_belongs_to_the_inverters_device(move_in: MoveIn) -> None:
    house = await guarded(move_in)
    assert automations_with_device(house.hass, device_id(house.hass, house.entry)) == ["automation.battery_room_guard"]


async def test_without_actions_of_ones_own_each_message_takes_the_place_of_the_last(move_in: MoveIn) -> None:
    house = await guarded(move_in, notify=None)
    assert await async_setup_component(house.hass, "persistent_notification", {})
    shown: dict[str, str] = {}

    def hear(_: object, notifications: dict[str, Any]) -> None:
        shown.update({key: one["title"] for key, one in notifications.items()})

    async_register_callback(house.hass, hear)
    await smoke(house, "on")
    assert list(shown.values()) == ["Charging is disarmed"]


async def test_a_charge_that_was_armed_and_disarmed_since_is_not_armed_again(move_in: MoveIn) -> None:
    house = await guarded(move_in, rearm=True)
    await smoke(house, "on")
    await at(house, "12:03")
    # Not through the panel: the guard would have to see it in between.
    coordinator = house.entry.runtime_data
    coordinator.stopped_charge.see(replace(coordinator.data.schedule, armed=True))
    await smoke(house, "off")
    await at(house, "12:14")
    assert await armed(house) == DISARMED
    assert "not armed, and stays so until you arm it." in house.told[-1]["message"]


async def test_a_charge_that_could_not_be_disarmed_is_tried_again_in_silence(move_in: MoveIn) -> None:
    house = await guarded(move_in)
    house.entry.runtime_data.allow_control = False
    await smoke(house, "on")
    await at(house, "12:19")
    assert len(house.told) == 2
    house.entry.runtime_data.allow_control = True
    for minute in range(30, 50, 5):
        await at(house, f"12:{minute}")
    assert await armed(house) == DISARMED
    assert titles(house)[2:] == ["Charging is disarmed"]


async def test_alarms_that_go_off_together_do_not_keep_the_charge_from_being_armed_again(move_in: MoveIn) -> None:
    """The second alarm's run begins while the first one still notifies; both are the same automation's."""
    house = await guarded(move_in, rearm=True, notify=[{"delay": {"seconds": 1}}, *TELL])
    await smoke(house, "on", settle=False)
    await smoke(house, "on", ATTIC)
    await at(house, "12:02:40")
    assert await armed(house) == DISARMED
    await smoke(house, "off")
    await smoke(house, "off", ATTIC)
    await at(house, "12:14")
    await at(house, "12:15")
    assert titles(house)[-1] == WELL
    assert "armed again, and it was read back" in house.told[-1]["message"]
    assert await armed(house) == ARMED
