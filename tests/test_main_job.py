"""The main job: a schedule put on an inverter and proven to have stuck, through a real Home Assistant over a real line."""

import asyncio
from datetime import datetime, time, timedelta

import pytest
from homeassistant.core import HomeAssistant
from homeassistant.exceptions import HomeAssistantError, ServiceValidationError
from pymodbus.client import AsyncModbusTcpClient
from pytest_homeassistant_custom_component.common import MockConfigEntry

from tests.bench.remote import Bench
from tests.bench.teasel import CHARGE, CLOCK, CONTROL_WORD, DISCHARGE, HOLDING, RESERVE_LEVEL, RUNNING_MODE, SCHEDULE
from tests.calls import act, device_id, edit_and_apply, entity_id, hurry, set_entity, state
from tests.conftest import AddInverter
from tests.teasel import EVENING, EVENING_HELD, FACTORY, INPUT_AT, TONIGHT, WANTED, held, registers


async def plain_read(port: int, first: int, count: int) -> list[int]:
    """Registers over a connection of its own, with nothing of Chargehand's in between."""
    async with AsyncModbusTcpClient("127.0.0.1", port=port) as client:
        return (await client.read_holding_registers(first, count=count)).registers


async def test_a_schedule_is_written_read_back_and_confirmed(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    receipt = await act(hass, entry, "apply_schedule", charge=TONIGHT)
    assert receipt["outcome"] == "confirmed"
    assert receipt["changes"] == [
        {"what": "charge_window_1_start", "was": "22:40", "now": "01:00"},
        {"what": "charge_window_1_end", "was": "02:20", "now": "05:00"},
        {"what": "charge_window_1_power", "was": 2000.0, "now": 3000.0},
        {"what": "charge_window_1_stop_level", "was": 100.0, "now": 95.0},
    ]
    assert receipt["registers_written"] == 4
    assert receipt["requests"]["writes"] == 1
    assert receipt["requests"]["retries"] == 0
    assert receipt["adjusted"] == []
    assert await plain_read(bench.port, CHARGE[0].start, 4) == [100, 3000, 95, 500]
    assert await plain_read(bench.port, CHARGE[1].start, 12) == [0] * 12
    assert state(hass, "sensor", "schedule_status").state == "confirmed"
    assert state(hass, "time", "charge_window_1_start").state == "01:00:00"
    assert state(hass, "number", "charge_window_1_power").state == "3000.0"


async def test_the_whole_image_is_read_back_after_the_write(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    requests = await bench.journal()
    written = max(index for index, request in enumerate(requests) if request["function"] in (6, 16))
    after = [request for request in requests[written + 1 :] if request["function"] == 3]
    read = {address for request in after for address in range(request["first"], request["first"] + request["count"])}
    assert read >= {CONTROL_WORD, *SCHEDULE}


async def test_the_same_schedule_again_writes_nothing(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    before = len(await bench.journal())
    receipt = await act(hass, entry, "apply_schedule", charge=TONIGHT)
    assert receipt["outcome"] == "unchanged"
    assert receipt["registers_written"] == 0
    assert receipt["changes"] == []
    assert not [request for request in (await bench.journal())[before:] if request["function"] in (6, 16)]


async def test_an_edit_on_the_dashboard_is_on_the_inverter_once_it_is_applied(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    await edit_and_apply(hass, "time", "charge_window_1_start", time="22:15:00")
    assert await bench.registers("holding", CHARGE[0].start) == [2215]
    await edit_and_apply(hass, "number", "charge_window_1_power", value=1665)
    assert await bench.registers("holding", CHARGE[0].power) == [1665]
    await edit_and_apply(hass, "time", "charge_window_1_end", time=time(0, 0))
    assert await bench.registers("holding", CHARGE[0].end) == [2400]
    await set_entity(hass, "switch", "turn_off", "timed_charging")
    assert await bench.registers("holding", CONTROL_WORD) == [0]
    assert state(hass, "switch", "timed_charging").state == "off"
    assert state(hass, "sensor", "next_charge_start").state == "unknown"
    await set_entity(hass, "switch", "turn_on", "timed_charging")
    assert await bench.registers("holding", CONTROL_WORD) == [1]


async def times(bench: Bench) -> list[int]:
    """Start and end of the first discharge window."""
    start, _, _, end = await held(bench, DISCHARGE[0])
    return [start, end]


async def test_an_unused_window_that_gets_a_time_reaches_to_the_next_window(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    """The charge window from 22:40 to 02:20 stands in the way of midnight on both sides."""
    await edit_and_apply(hass, "time", "discharge_window_1_start", time="17:00:00")
    assert await times(bench) == [1700, 2240]
    assert await held(bench, DISCHARGE[0]) == registers("17:00", "22:40", 5000, 10), "limits are never left at 0"
    await edit_and_apply(hass, "time", "discharge_window_1_end", time="19:00:00")
    assert await times(bench) == [1700, 1900]
    await act(hass, entry, "apply_schedule", discharge=[])
    assert await times(bench) == [0, 0]
    await edit_and_apply(hass, "time", "discharge_window_1_end", time="06:30:00")
    assert await times(bench) == [220, 630]
    await act(hass, entry, "apply_schedule", discharge=[])
    with pytest.raises(ServiceValidationError) as refused:
        await edit_and_apply(hass, "time", "discharge_window_1_start", time="01:00:00")
    assert refused.value.translation_key == "schedule_rejected"
    await act(hass, entry, "apply_schedule", charge=[], armed=False)
    await edit_and_apply(hass, "time", "discharge_window_1_start", time="17:00:00")
    assert await times(bench) == [1700, 2400], "alone it goes on to midnight"
    await act(hass, entry, "apply_schedule", charge=[], discharge=[], armed=False)
    await edit_and_apply(hass, "time", "discharge_window_1_end", time="00:00:00")
    assert await times(bench) == [0, 2400], "or begins there"


@pytest.mark.parametrize(("setting", "time"), [("start", "02:20:00"), ("end", "22:40:00")])
async def test_a_window_s_times_that_meet_are_refused_and_the_window_stays(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, setting: str, time: str
) -> None:
    with pytest.raises(ServiceValidationError, match="would start and end at") as refused:
        await set_entity(hass, "time", "set_value", f"charge_window_1_{setting}", time=time)
    assert refused.value.translation_key == "schedule_rejected"
    assert "charge window 1 would start and end at" in str(refused.value)
    assert await held(bench) == FACTORY
    assert not [request for request in await bench.journal() if request["function"] in (6, 16)]
    assert state(hass, "sensor", "schedule_status").state == "never_confirmed"


async def test_get_schedule_reads_the_inverter_now(hass: HomeAssistant, bench: Bench, entry: MockConfigEntry) -> None:
    await bench.set(DISCHARGE[0].start, registers("17:30", "19:00", 4000, 30))
    answer = await act(hass, entry, "get_schedule")
    assert answer == {
        "charge": [{"start": "22:40", "end": "02:20", "power": 2000.0, "stop_level": 100.0}],
        "discharge": [{"start": "17:30", "end": "19:00", "power": 4000.0, "stop_level": 30.0}],
        "armed": True,
    }


@pytest.mark.parametrize(
    ("request_", "named"),
    [
        ({"charge": [{**TONIGHT[0]}, {**TONIGHT[0], "start": "04:59", "end": "06:00"}]}, "charge window 2"),
        ({"charge": [{**TONIGHT[0], "power": 5001}]}, "5001"),
        ({"charge": [{**TONIGHT[0], "start": "24:30"}]}, "24:30"),
        ({"charge": [{**TONIGHT[0], "start": f"0{n}:00", "end": f"0{n}:30"} for n in range(5)]}, "5 charge windows"),
        ({"charge": [{"start": "01:00", "end": "02:00", "current": 900, "stop_level": 90}]}, "charge window 1 power"),
    ],
)
async def test_a_refused_request_names_its_fault_and_sends_nothing(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, request_: dict[str, object], named: str
) -> None:
    before = await bench.registers("holding", HOLDING[0], len(HOLDING))
    with pytest.raises(ServiceValidationError) as refused:
        await act(hass, entry, "apply_schedule", **request_)
    assert refused.value.translation_key == "schedule_rejected"
    assert named in str(refused.value)
    first, last = CLOCK[0] - HOLDING[0], CLOCK[-1] + 1 - HOLDING[0]
    after = await bench.registers("holding", HOLDING[0], len(HOLDING))
    assert [*before[:first], *before[last:]] == [*after[:first], *after[last:]], (
        "all but the running clock is as it was"
    )
    assert not [request for request in await bench.journal() if request["function"] in (6, 16)]


async def test_a_read_only_entry_refuses_and_has_no_controls(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter
) -> None:
    entry = await add_inverter(bench.port, allow_control=False)
    for action in ("apply_schedule", "set_clock"):
        with pytest.raises(ServiceValidationError) as refused:
            await act(hass, entry, action)
        assert refused.value.translation_key == "control_not_allowed"
    for platform in ("time", "number", "switch", "select", "button"):
        assert not hass.states.async_entity_ids(platform)
    assert (await act(hass, entry, "get_schedule"))["armed"] is True
    assert not [request for request in await bench.journal() if request["function"] in (6, 16)]


async def test_an_unknown_device_and_one_that_is_not_running_are_told_apart(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    device = device_id(hass, entry)
    with pytest.raises(ServiceValidationError) as unknown:
        await hass.services.async_call(
            "chargehand", "get_schedule", {"device_id": "no-such"}, blocking=True, return_response=True
        )
    assert unknown.value.translation_key == "unknown_device"
    await hass.config_entries.async_unload(entry.entry_id)
    with pytest.raises(ServiceValidationError) as stopped:
        await hass.services.async_call(
            "chargehand", "get_schedule", {"device_id": device}, blocking=True, return_response=True
        )
    assert stopped.value.translation_key == "not_running"


async def test_a_change_of_several_frames_disarms_first_and_arms_last(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    receipt = await act(hass, entry, "apply_schedule", charge=TONIGHT, discharge=EVENING)
    assert receipt["outcome"] == "confirmed"
    assert await held(bench) == WANTED
    assert await held(bench, DISCHARGE[0]) == EVENING_HELD
    assert await bench.registers("holding", CONTROL_WORD) == [1]
    writes = [one for one in await bench.journal() if one["function"] == 16]
    assert [(one["first"], one["values"]) for one in writes] == [
        (CONTROL_WORD, [0]),
        (CHARGE[0].start, WANTED),
        (DISCHARGE[0].start, EVENING_HELD),
        (CONTROL_WORD, [1]),
    ]
    armed = [one for one in await bench.acted() if one["armed"]]
    assert len(armed) == 2, "it acted on the schedule before and on the one after, and on nothing between"


async def test_a_lost_answer_to_a_write_is_read_before_it_is_called_failed(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    await bench.fault("answer_lost", only="write")
    receipt = await act(hass, entry, "apply_schedule", charge=TONIGHT)
    assert receipt["outcome"] == "confirmed"
    assert receipt["requests"]["writes"] == 1
    assert await held(bench) == WANTED


async def test_a_write_that_shows_late_is_waited_for(hass: HomeAssistant, bench: Bench, entry: MockConfigEntry) -> None:
    await bench.fault("write_shows_late", ms=1500)
    receipt = await act(hass, entry, "apply_schedule", charge=TONIGHT)
    assert receipt["outcome"] == "confirmed"
    assert receipt["seconds"] > 1.5


async def test_a_refused_write_is_told_with_what_the_inverter_holds(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    await bench.fault("exception", code=3, only="write")
    with pytest.raises(HomeAssistantError) as failed:
        await act(hass, entry, "apply_schedule", charge=TONIGHT)
    assert failed.value.translation_key == "schedule_restored"
    assert "22:40–02:20 2000 W to 100 %" in str(failed.value)
    assert await held(bench) == FACTORY


async def test_a_clamped_write_is_not_called_confirmed_and_the_earlier_schedule_comes_back(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    await bench.fault("write_clamped", limit=500, count=3)
    with pytest.raises(HomeAssistantError) as failed:
        await act(hass, entry, "apply_schedule", charge=TONIGHT)
    assert failed.value.translation_key == "schedule_restored"
    assert await held(bench) == FACTORY


async def test_an_inverter_that_goes_silent_after_the_write_leaves_the_schedule_uncertain_until_it_is_read(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    await bench.fault("answer_lost", only="write")
    await bench.fault("no_answer", only="read", nth=3, count=None)
    with pytest.raises(HomeAssistantError) as failed:
        await act(hass, entry, "apply_schedule", charge=TONIGHT)
    assert failed.value.translation_key == "schedule_uncertain"
    assert state(hass, "sensor", "schedule_status").state == "unconfirmed"


async def test_a_line_that_is_down_is_told_and_nothing_was_written(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    await bench.gateway(down=True)
    with pytest.raises(HomeAssistantError) as failed:
        await act(hass, entry, "apply_schedule", charge=TONIGHT)
    assert failed.value.translation_key == "line_down"


async def test_two_commits_at_once_are_done_one_after_the_other(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    one, two = await asyncio.gather(
        act(hass, entry, "apply_schedule", charge=TONIGHT),
        act(hass, entry, "apply_schedule", charge=[{**TONIGHT[0], "power": 1000}]),
    )
    assert {one["outcome"], two["outcome"]} == {"confirmed"}
    assert await bench.registers("holding", CHARGE[0].power) in ([3000], [1000])
    writes = [request for request in await bench.journal() if request["function"] == 16]
    assert len(writes) == 2


async def test_a_change_by_another_hand_is_noticed(hass: HomeAssistant, bench: Bench, entry: MockConfigEntry) -> None:
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    await bench.set(CHARGE[0].start, [155])
    entry.runtime_data.rates.slow_next()
    await entry.runtime_data.async_refresh()
    assert state(hass, "sensor", "schedule_status").state == "changed_elsewhere"
    assert state(hass, "time", "charge_window_1_start").state == "01:55:00"
    event = hass.states.get(entity_id(hass, "event", "schedule_event"))
    assert event is not None
    assert event.attributes["event_type"] == "changed_elsewhere"


async def test_a_control_is_written_and_read_back(hass: HomeAssistant, bench: Bench, entry: MockConfigEntry) -> None:
    hurry(entry)
    await set_entity(hass, "number", "set_value", "reserve_level", value=35)
    assert await bench.registers("holding", RESERVE_LEVEL) == [35]
    assert state(hass, "number", "reserve_level").state == "35.0"
    await set_entity(hass, "select", "select_option", "running_mode", option="hold")
    assert await bench.registers("holding", RUNNING_MODE) == [1]
    await set_entity(hass, "switch", "turn_on", "buzzer")
    assert await bench.registers("holding", CONTROL_WORD) == [0b101], "the bit that arms is left alone"
    await bench.fault("write_ignored", count=5)
    with pytest.raises(HomeAssistantError):
        await set_entity(hass, "number", "set_value", "reserve_level", value=50)
    assert state(hass, "number", "reserve_level").state == "35.0"


async def test_the_clock_is_set_and_read_back(hass: HomeAssistant, bench: Bench, entry: MockConfigEntry) -> None:
    shown = await bench.clock()
    now = datetime.fromisoformat(str(shown["clock"]))
    await bench.clock(now + timedelta(minutes=20))
    answer = await act(hass, entry, "set_clock")
    assert abs(answer["offset_before"] - 1200) < 2
    assert abs(answer["offset_after"]) <= 2
    assert abs(int(state(hass, "sensor", "clock_offset").state)) <= 2
    await bench.clock(now - timedelta(hours=1))
    await set_entity(hass, "button", "press", "set_clock")
    shown = await bench.clock()
    assert abs((datetime.fromisoformat(str(shown["clock"])) - now).total_seconds()) < 60


async def test_a_clock_that_does_not_take_the_time_is_told(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    shown = await bench.clock()
    await bench.clock(datetime.fromisoformat(str(shown["clock"])) + timedelta(minutes=20))
    await bench.fault("write_ignored")
    with pytest.raises(HomeAssistantError, match=r"still (1200|1199|1201) s off"):
        await act(hass, entry, "set_clock")


async def test_a_charge_power_above_the_batterys_own_limit_is_lowered_and_that_is_said(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    """P = V x I: 45.7 A at 51.2 V are 2339.84 W, and the register takes whole watts."""
    await bench.set(INPUT_AT["battery_charge_current_limit"], [457], table="input")
    await bench.set(INPUT_AT["battery_voltage"], [512], table="input")
    receipt = await act(hass, entry, "apply_schedule", charge=TONIGHT)
    assert receipt["adjusted"] == [
        {"what": "charge_window_1_power", "requested": "3000 W", "applied": "2339 W", "why": "battery_limit"}
    ]
    assert await bench.registers("holding", CHARGE[0].power) == [2339]
    receipt = await act(hass, entry, "apply_schedule", charge=TONIGHT, override=True)
    assert receipt["adjusted"] == []
    assert await bench.registers("holding", CHARGE[0].power) == [3000]


@pytest.mark.parametrize(
    ("reading", "value", "word"),
    [
        ("battery_temperature", 0xFFF6, "-1"),
        ("battery_temperature", 510, "51"),
        ("battery_charge_current_limit", 0, "no more than 0 W"),
    ],
)
async def test_a_battery_that_must_not_be_charged_is_not_unless_overridden(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, reading: str, value: int, word: str
) -> None:
    await bench.set(INPUT_AT[reading], [value], table="input")
    with pytest.raises(ServiceValidationError, match=word) as refused:
        await act(hass, entry, "apply_schedule", charge=TONIGHT)
    assert refused.value.translation_key == "schedule_rejected"
    assert await held(bench) == FACTORY
    with pytest.raises(ServiceValidationError):
        await edit_and_apply(hass, "number", "charge_window_1_power", value=2500)
    await set_entity(hass, "switch", "turn_off", "timed_charging")
    assert await bench.registers("holding", CONTROL_WORD) == [0], "disarming is always possible"
    receipt = await act(hass, entry, "apply_schedule", charge=TONIGHT, override=True)
    assert receipt["outcome"] == "confirmed"
