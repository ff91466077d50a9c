"""What runs beside one another: polls, changes, reloads, removal. What is shown and kept afterwards is what is so."""

import asyncio
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from homeassistant.core import CoreState, Event, HomeAssistant, callback
from homeassistant.exceptions import HomeAssistantError, ServiceValidationError
from homeassistant.helpers import issue_registry as ir
from homeassistant.setup import async_setup_component
from homeassistant.util import dt as dt_util
from pytest_homeassistant_custom_component.common import MockConfigEntry, async_fire_time_changed

from custom_components import chargehand
from custom_components.chargehand.core.registers import Table
from tests.bench.remote import Bench
from tests.bench.teasel import CHARGE, RATED_POWER
from tests.calls import act, device_id, entity_id, hurry, set_entity, state
from tests.conftest import AddInverter
from tests.teasel import INPUT_AT, held, registers

NEW = {"start": "01:00", "end": "03:00", "power": 1000, "stop_level": 80.0}
HELD = registers("01:00", "03:00", 1000, 80)
SLOW = {"baud": 9600, "turnaround_ms": 60}


def recorded(hass: HomeAssistant) -> list[tuple[str, str]]:
    """What the activity log records, as it comes."""
    found: list[tuple[str, str]] = []

    @callback
    def take(event: Event[Any]) -> None:
        found.append((event.data["type"], event.data["message"]))

    hass.bus.async_listen("chargehand_schedule", take)
    return found


async def until(holds: Callable[[], object]) -> None:
    for _ in range(10_000):
        if holds():
            return
        await asyncio.sleep(0.001)
    pytest.fail("it did not come to that")


async def begun(hass: HomeAssistant, entry: MockConfigEntry) -> asyncio.Task[dict[str, Any]]:
    """A commit that is under way."""
    work = asyncio.create_task(act(hass, entry, "apply_schedule", charge=[NEW]))
    await until(lambda: entry.runtime_data.storage.unfinished)
    return work


async def test_a_poll_beside_a_commit_neither_settles_it_nor_shows_what_was(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    events = recorded(hass)
    work = await begun(hass, entry)
    poll = asyncio.create_task(entry.runtime_data.async_refresh())
    assert (await work)["outcome"] == "confirmed"
    assert state(hass, "time", "charge_window_1_start").state == "01:00:00"
    await poll
    assert state(hass, "time", "charge_window_1_start").state == "01:00:00"
    assert state(hass, "sensor", "schedule_status").state == "confirmed"
    assert [kind for kind, _ in events] == ["confirmed"]


async def test_commits_among_polls_on_a_slow_line_are_told_once_each_and_never_shown_as_they_were(
    hass: HomeAssistant, socket_enabled: None, add_inverter: AddInverter
) -> None:
    async with await Bench.start(**SLOW) as bench:
        entry = await add_inverter(bench.port, fast_seconds=1, slow_seconds=1)
        events = recorded(hass)
        for number in range(6):
            start = f"0{number + 1}:00"
            await act(hass, entry, "apply_schedule", charge=[{**NEW, "start": start, "end": "09:00"}])
            for _ in range(4):
                assert state(hass, "time", "charge_window_1_start").state == f"{start}:00"
                await asyncio.sleep(0.3)
        assert [kind for kind, _ in events] == ["confirmed"] * 6
        await hass.config_entries.async_unload(entry.entry_id)


async def test_a_reload_waits_for_the_commit_that_is_under_way(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    work = await begun(hass, entry)
    await hass.config_entries.async_reload(entry.entry_id)
    assert (await work)["outcome"] == "confirmed"
    await hass.async_block_till_done()
    await entry.runtime_data.async_refresh()
    assert await held(bench) == HELD
    assert state(hass, "sensor", "schedule_status").state == "confirmed"
    assert state(hass, "time", "charge_window_1_start").state == "01:00:00"
    assert entry.runtime_data.storage.unfinished is None
    assert not [one for one in ir.async_get(hass).issues.values() if one.domain == "chargehand"]


async def test_what_waits_to_be_written_down_is_when_the_entry_is_reloaded_and_never_after(
    hass: HomeAssistant, hass_storage: dict[str, Any], entry: MockConfigEntry
) -> None:
    key = f"chargehand.{entry.entry_id}"
    await act(hass, entry, "apply_schedule", charge=[NEW])
    await hass.config_entries.async_reload(entry.entry_id)
    assert entry.runtime_data.storage.commits_today == 1
    await act(hass, entry, "restore_schedule")
    kept = hass_storage[key]["data"]["changes"]["confirmed"]
    async_fire_time_changed(hass, dt_util.utcnow() + timedelta(seconds=31))
    await hass.async_block_till_done()
    assert hass_storage[key]["data"]["changes"]["confirmed"] == kept
    await hass.config_entries.async_remove(entry.entry_id)
    async_fire_time_changed(hass, dt_util.utcnow() + timedelta(seconds=62))
    await hass.async_block_till_done()
    assert not [one for one in hass_storage if entry.entry_id in one]


async def test_a_poll_that_read_a_control_before_it_was_set_does_not_undo_it(
    hass: HomeAssistant, entry: MockConfigEntry, monkeypatch: pytest.MonkeyPatch
) -> None:
    inverter = entry.runtime_data.inverter
    (where,) = inverter.map.controls["buzzer"].point.addresses
    read, seen, goes_on = inverter.line.read, asyncio.Event(), asyncio.Event()

    async def held_up(table: Table, first: int, count: int, **terms: Any) -> tuple[int, ...]:
        registers: tuple[int, ...] = await read(table, first, count, **terms)
        has_it = table == where[0] and first <= where[1] < first + count
        if has_it and not terms.get("urgent") and not seen.is_set():
            seen.set()
            await goes_on.wait()
        return registers

    monkeypatch.setattr(inverter.line, "read", held_up)
    entry.runtime_data.rates.slow_next()
    poll = asyncio.create_task(entry.runtime_data.async_refresh())
    await seen.wait()
    await set_entity(hass, "switch", "turn_on", "buzzer")
    assert state(hass, "switch", "buzzer").state == "on"
    goes_on.set()
    await poll
    assert state(hass, "switch", "buzzer").state == "on"


async def silent(bench: Bench, entry: MockConfigEntry, polls: int) -> None:
    entry.runtime_data.inverter.line._timeout = 0.1
    await bench.inverter(answers=False)
    for _ in range(polls):
        await entry.runtime_data.async_refresh()


BATTERY = {
    "capacity_kwh": 10, "charge_kw": 3, "discharge_kw": 3, "charge_efficiency": 94, "discharge_efficiency": 94,
    "reserve_level": 10, "highest_level": 100, "wear": 0, "fallback_level": 85,
}  # fmt: skip
TARIFF = {"buy": 0.31, "sell": 0.06, "keeps": "local", "bands": [{"start": "01:00", "end": "05:00", "buy": 0.11}]}


async def test_no_plan_is_made_from_a_level_of_before_the_inverter_fell_silent(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter
) -> None:
    entry = await add_inverter(bench.port, battery=BATTERY, tariff=TARIFF)
    assert (await act(hass, entry, "plan_charge", load_kwh=9, solar_kwh=0))["hours"]
    await silent(bench, entry, 3)
    with pytest.raises(ServiceValidationError) as refused:
        await act(hass, entry, "plan_charge", load_kwh=9, solar_kwh=0)
    assert refused.value.translation_key == "plan_no_level"
    await bench.inverter(answers=True)


async def test_the_lines_sensors_go_on_telling_while_the_inverter_is_silent(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    await silent(bench, entry, 3)
    before = int(state(hass, "sensor", "line_errors").state)
    await silent(bench, entry, 3)
    assert int(state(hass, "sensor", "line_errors").state) > before
    await bench.inverter(answers=True)


async def test_a_plan_to_be_applied_without_leave_is_the_last_failure_too(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter
) -> None:
    entry = await add_inverter(bench.port, battery=BATTERY, tariff=TARIFF, allow_control=False)
    with pytest.raises(ServiceValidationError):
        await act(hass, entry, "plan_charge", load_kwh=9, solar_kwh=0, apply=True)
    failure = state(hass, "sensor", "schedule_status").attributes["last_failure"]
    assert failure["key"] == "control_not_allowed"


async def test_who_is_told_after_one_that_makes_chargehand_tell_again_is_told_of_both(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter
) -> None:
    """An automation at one entity's change calls an action that is refused at once, which the status shows."""
    entry = await add_inverter(bench.port, allow_control=False)
    action = {
        "action": "chargehand.apply_schedule",
        "continue_on_error": True,
        "data": {"device_id": device_id(hass, entry), "charge": [NEW]},
    }
    trigger = {"trigger": "state", "entity_id": entity_id(hass, "sensor", "battery_level")}
    automation = {"alias": "x", "triggers": trigger, "actions": action}
    assert await async_setup_component(hass, "automation", {"automation": automation})
    for key, value in (("battery_level", 33), ("battery_temperature", 333), ("inverter_state", 2)):
        await bench.set(INPUT_AT[key], [value], table="input")
    await entry.runtime_data.async_refresh()
    await hass.async_block_till_done()
    shown = [state(hass, "sensor", key).state for key in ("battery_level", "battery_temperature", "inverter_state")]
    assert shown == ["33", "33.3", "fault"]
    assert state(hass, "sensor", "schedule_status").attributes["last_failure"]["key"] == "control_not_allowed"


async def test_what_the_first_poll_after_a_start_finds_is_told_to_the_event_entity(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    await act(hass, entry, "apply_schedule", charge=[NEW])
    await hass.config_entries.async_unload(entry.entry_id)
    await bench.set(CHARGE[0].power, [100])
    await hass.config_entries.async_setup(entry.entry_id)
    await hass.async_block_till_done()
    assert state(hass, "sensor", "schedule_status").state == "changed_elsewhere"
    assert state(hass, "event", "schedule_event").attributes["event_type"] == "changed_elsewhere"


async def test_a_value_that_is_read_once_is_asked_for_again_when_it_was_missed(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter, tmp_path: Path
) -> None:
    hass.config.config_dir = str(tmp_path)
    own = (Path(chargehand.__file__).parent / "maps" / "teasel_t5.yaml").read_text()
    slow = "name: Rated power, poll: slow"
    assert slow in own
    (tmp_path / "chargehand").mkdir()
    (tmp_path / "chargehand" / "once.yaml").write_text(own.replace(slow, slow.replace("slow", "once")))
    await bench.fault("exception", code=4, touches=RATED_POWER, only="read")
    entry = await add_inverter(bench.port, register_map="once")
    for _ in range(2):
        entry.runtime_data.rates.slow_next()
        await entry.runtime_data.async_refresh()
    assert state(hass, "sensor", "rated_power").state == "5000"


async def test_a_second_try_that_does_not_take_ends_the_doubt_about_the_first(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    hurry(entry)
    await bench.fault("answer_lost", only="write")
    await bench.fault("no_answer", only="read", nth=3, count=None)
    with pytest.raises(HomeAssistantError) as first:
        await act(hass, entry, "apply_schedule", charge=[NEW])
    assert first.value.translation_key == "schedule_uncertain"
    await bench.clear_faults()
    await bench.fault("exception", code=3, only="write", count=None)
    with pytest.raises(HomeAssistantError) as second:
        await act(hass, entry, "apply_schedule", charge=[])
    assert second.value.translation_key == "schedule_restored"
    await bench.clear_faults()
    for _ in range(2):
        entry.runtime_data.rates.slow_next()
        await entry.runtime_data.async_refresh()
    assert await held(bench) == HELD, "the first had taken"
    assert state(hass, "sensor", "schedule_status").state == "confirmed"
    assert not [one for one in ir.async_get(hass).issues.values() if one.domain == "chargehand"]


async def test_nothing_is_begun_while_home_assistant_stops(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    hass.set_state(CoreState.stopping)
    with pytest.raises(ServiceValidationError) as refused:
        await act(hass, entry, "apply_schedule", charge=[NEW])
    hass.set_state(CoreState.running)
    assert refused.value.translation_key == "stopping"
    assert not [one for one in await bench.journal() if one["function"] in {6, 16}]
