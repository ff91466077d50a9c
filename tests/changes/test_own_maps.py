"""Commits on register maps of the house's own: one that lost windows, one with nothing safe in the middle, one that a mode arms."""

import asyncio
from contextlib import suppress
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
import yaml
from homeassistant.core import HomeAssistant
from homeassistant.exceptions import HomeAssistantError, ServiceValidationError
from homeassistant.util import dt as dt_util
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components.chargehand.core.schedule.commit_terms import Patience
from tests.bench.remote import Bench
from tests.bench.teasel import CHARGE, CONTROL_WORD, DISCHARGE, RUNNING_MODE
from tests.calls import act, begun_commits, edit_and_apply, entity_id, hurry, record_events, set_entity, state
from tests.changes.test_schedule_monitor import issue, poll
from tests.conftest import AddInverter
from tests.core.schedule.variants import TEASEL
from tests.teasel import EVENING, EVENING_HELD, FACTORY, LATER, TONIGHT, UNUSED, WANTED, far_from, held, registers
from tests.waiting import written


@pytest.fixture
def own_map(hass: HomeAssistant) -> Path:
    """The Teasel's map as one of the house's own."""
    path = Path(hass.config.path("chargehand", "mine.yaml"))
    path.parent.mkdir()
    path.write_text(TEASEL.read_text())
    return path


def change(path: Path, **sections: Any) -> None:
    """Change a map, section by section and key by key; None takes a key away."""
    data = yaml.safe_load(path.read_text())
    _merge(data, sections)
    path.write_text(yaml.safe_dump(data, sort_keys=False))


def _merge(data: dict[str, Any], changes: dict[str, Any]) -> None:
    for key, value in changes.items():
        if value is None:
            del data[key]
        elif isinstance(value, dict) and key in data:
            _merge(data[key], value)
        else:
            data[key] = value


async def reload(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    assert await hass.config_entries.async_reload(entry.entry_id)
    await hass.async_block_till_done()
    await poll(hass, entry)


# ---- a map that lost windows


async def test_what_was_before_is_put_back_as_far_as_the_map_still_names_it(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter, own_map: Path
) -> None:
    entry = await add_inverter(bench.port, register_map="mine")
    await act(hass, entry, "apply_schedule", charge=TONIGHT, discharge=EVENING)
    await act(hass, entry, "apply_schedule", charge=LATER, discharge=[])
    change(own_map, schedule={"charge": {"count": 1}, "discharge": None})
    await reload(hass, entry)
    assert state(hass, "sensor", "schedule_status").state == "confirmed", "nobody has changed anything"
    theirs = registers("09:00", "10:00", 1500, 55)
    await bench.set(DISCHARGE[0].start, theirs)
    await poll(hass, entry)
    assert state(hass, "sensor", "schedule_status").state == "confirmed", "what the map does not name is not ours"
    assert (await act(hass, entry, "restore_schedule"))["outcome"] == "confirmed"
    assert await held(bench) == WANTED
    assert await held(bench, DISCHARGE[0]) == theirs
    await bench.set(CHARGE[0].power, [100])
    await poll(hass, entry)
    assert state(hass, "sensor", "schedule_status").state == "changed_elsewhere"
    assert (await act(hass, entry, "restore_schedule", which="confirmed"))["outcome"] == "confirmed"
    assert await held(bench) == WANTED


async def test_what_was_confirmed_is_put_back_by_a_map_that_names_less_of_it(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter, own_map: Path
) -> None:
    entry = await add_inverter(bench.port, register_map="mine")
    await act(hass, entry, "apply_schedule", charge=TONIGHT, discharge=EVENING)
    change(own_map, schedule={"charge": {"count": 2}, "discharge": {"count": 1}})
    await reload(hass, entry)
    await bench.set(CHARGE[0].power, [100])
    await poll(hass, entry)
    assert state(hass, "sensor", "schedule_status").state == "changed_elsewhere"
    assert (await act(hass, entry, "restore_schedule", which="confirmed"))["outcome"] == "confirmed"
    assert await held(bench) == WANTED
    assert await held(bench, DISCHARGE[0]) == EVENING_HELD
    assert state(hass, "sensor", "schedule_status").state == "confirmed"


async def test_a_map_that_gains_windows_is_no_change_by_another_hand(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter, own_map: Path
) -> None:
    change(own_map, schedule={"charge": {"count": 1}, "discharge": None})
    entry = await add_inverter(bench.port, register_map="mine")
    await act(hass, entry, "apply_schedule", charge=LATER)
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    change(own_map, schedule={"charge": {"count": 2}})
    await reload(hass, entry)
    assert state(hass, "sensor", "schedule_status").state == "confirmed"
    await bench.set(CHARGE[0].power, [100])
    await poll(hass, entry)
    assert state(hass, "sensor", "schedule_status").state == "changed_elsewhere"
    repair = issue(hass, entry, "changed_elsewhere")
    assert repair is not None
    assert repair.translation_placeholders is not None
    assert repair.translation_placeholders["changes"] == "charge window 1 power 3000 W to 100 W"
    assert (await act(hass, entry, "restore_schedule", which="confirmed"))["outcome"] == "confirmed"
    assert await held(bench) == WANTED
    await act(hass, entry, "restore_schedule")
    assert await bench.registers("holding", CHARGE[0].power) == [100]


async def test_another_hand_in_a_window_that_the_map_has_gained_is_told(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter, own_map: Path
) -> None:
    change(own_map, schedule={"charge": {"count": 1}, "discharge": None})
    entry = await add_inverter(bench.port, register_map="mine")
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    change(own_map, schedule={"charge": {"count": 2}})
    await reload(hass, entry)
    assert state(hass, "sensor", "schedule_status").state == "confirmed"
    await reload(hass, entry)
    await bench.set(CHARGE[1].start, registers("06:30", "07:15", 500, 50))
    await poll(hass, entry)
    assert state(hass, "sensor", "schedule_status").state == "changed_elsewhere"


# ---- another hand in the middle of a commit


@pytest.fixture
async def unsafe(bench: Bench, add_inverter: AddInverter, own_map: Path) -> tuple[Bench, MockConfigEntry]:
    """Register by register, with nothing to disarm by, and no power low enough to do nothing: one register can be changed safely."""
    change(
        own_map,
        line={"write_function": 6},
        schedule={"armed_by": None, "charge": {"count": 1, "fields": {"power": {"min": 1}}}, "discharge": None},
    )
    entry = await add_inverter(bench.port, register_map="mine")
    entry.runtime_data.inverter.commit_rules.patience = Patience(settle=0.02, answered=0.6, unanswered=0.2, busy=0.2)
    return bench, entry


async def test_another_hand_that_changes_what_cannot_be_left_safely_is_left_alone_and_told(
    hass: HomeAssistant, unsafe: tuple[Bench, MockConfigEntry]
) -> None:
    bench, entry = unsafe
    await act(hass, entry, "keep_schedule")
    with pytest.raises(ServiceValidationError) as refused:
        await act(hass, entry, "apply_schedule", charge=TONIGHT)
    assert refused.value.translation_key == "not_safely"
    assert entry.runtime_data.storage.unfinished is None
    await bench.fault("write_ignored", count=1)
    requests = len(await bench.journal())
    change = hass.async_create_task(edit_and_apply(hass, "number", "charge_window_1_power", value=1000))
    await written(bench, requests)
    theirs = registers("01:11", "04:44", 1650, 77)
    await bench.set(CHARGE[0].start, theirs)
    with pytest.raises(HomeAssistantError, match="changed elsewhere meanwhile") as unsure:
        await change
    assert unsure.value.translation_key == "schedule_uncertain", "something was sent, so it is not refused as unsafe"
    assert "01:11" in str(unsure.value), "the error says what was read last"
    assert await held(bench) == theirs
    assert issue(hass, entry, "schedule_uncertain") is not None
    assert entry.runtime_data.storage.unfinished is not None
    await poll(hass, entry)
    assert await held(bench) == theirs
    assert issue(hass, entry, "schedule_uncertain") is None
    assert state(hass, "sensor", "schedule_status").state == "changed_elsewhere"
    assert entry.runtime_data.storage.unfinished is None


# ---- a mode that arms


@pytest.fixture
async def armed_by_mode(hass: HomeAssistant, bench: Bench, add_inverter: AddInverter, own_map: Path) -> MockConfigEntry:
    """Windows act while the inverter holds; otherwise it follows the load or feeds the grid."""
    change(own_map, schedule={"armed_by": {"control": "running_mode", "value": "hold"}})
    entry = await add_inverter(bench.port, register_map="mine")
    hurry(entry)
    return entry


async def mode(bench: Bench) -> int:
    (value,) = await bench.registers("holding", RUNNING_MODE)
    return value


async def test_a_mode_that_arms_is_set_as_asked_and_is_no_change_by_another_hand(
    hass: HomeAssistant, bench: Bench, armed_by_mode: MockConfigEntry
) -> None:
    entry = armed_by_mode
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    assert await mode(bench) == 1, "a schedule is armed unless it is asked for otherwise"
    assert state(hass, "select", "running_mode").state == "hold"
    for option, value in (("feed_grid", 2), ("follow_load", 0), ("hold", 1), ("feed_grid", 2)):
        await set_entity(hass, "select", "select_option", "running_mode", option=option)
        assert await mode(bench) == value
        assert state(hass, "select", "running_mode").state == option
        await poll(hass, entry)
        assert state(hass, "sensor", "schedule_status").state == "confirmed"
        assert issue(hass, entry, "changed_elsewhere") is None
        assert (await act(hass, entry, "get_schedule"))["armed"] is (option == "hold")
    assert await held(bench) == WANTED
    assert entity_id(hass, "select", "running_mode") in state(hass, "sensor", "schedule_status").attributes["by"]
    # The inverter's own panel is another hand still.
    await bench.set(RUNNING_MODE, [1])
    await poll(hass, entry)
    assert state(hass, "sensor", "schedule_status").state == "changed_elsewhere"
    await act(hass, entry, "restore_schedule", which="confirmed")
    assert await mode(bench) == 2


async def test_a_schedule_arms_by_the_mode_last_and_cannot_choose_another(
    hass: HomeAssistant, bench: Bench, armed_by_mode: MockConfigEntry
) -> None:
    entry = armed_by_mode
    since = len(await bench.journal())
    receipt = await act(hass, entry, "apply_schedule", charge=TONIGHT, discharge=EVENING)
    assert {"what": "armed", "was": False, "now": True} in receipt["changes"]
    written = [one["first"] for one in (await bench.journal())[since:] if one["function"] == 16]
    assert written[-1] == RUNNING_MODE
    assert written.count(RUNNING_MODE) == 1
    with pytest.raises(ServiceValidationError, match="no switch that disarms") as refused:
        await act(hass, entry, "apply_schedule", charge=[], armed=False)
    assert refused.value.translation_key == "schedule_rejected"
    await act(hass, entry, "restore_schedule")
    assert await mode(bench) == 0, "the mode is put back to the one that was"


async def test_setting_the_mode_does_not_take_what_another_hand_has_changed_for_wanted(
    hass: HomeAssistant, bench: Bench, armed_by_mode: MockConfigEntry
) -> None:
    entry = armed_by_mode
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    await bench.set(CHARGE[0].power, [100])
    await poll(hass, entry)
    events = record_events(hass, "chargehand_schedule", "type")
    await set_entity(hass, "select", "select_option", "running_mode", option="feed_grid")
    await poll(hass, entry)
    assert state(hass, "sensor", "schedule_status").state == "changed_elsewhere"
    assert issue(hass, entry, "changed_elsewhere") is not None
    assert events == [], "and it is not reported again"
    await act(hass, entry, "restore_schedule", which="confirmed")
    assert await held(bench) == WANTED
    assert await mode(bench) == 2


async def test_a_mode_that_was_set_is_not_called_unwritten_because_the_windows_cannot_be_read(
    hass: HomeAssistant, bench: Bench, armed_by_mode: MockConfigEntry
) -> None:
    entry = armed_by_mode
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    await bench.fault("exception", code=4, only="read", touches=CHARGE[0].start, count=None)
    await set_entity(hass, "select", "select_option", "running_mode", option="feed_grid")
    assert await mode(bench) == 2
    await bench.clear_faults()
    await poll(hass, entry)
    assert state(hass, "sensor", "schedule_status").state == "confirmed"


async def test_a_mode_that_is_set_before_anything_was_confirmed_confirms_nothing(
    hass: HomeAssistant, bench: Bench, armed_by_mode: MockConfigEntry
) -> None:
    await set_entity(hass, "select", "select_option", "running_mode", option="hold")
    await poll(hass, armed_by_mode)
    assert await mode(bench) == 1
    assert state(hass, "sensor", "schedule_status").state == "never_confirmed"


# ---- writes that take several requests, and nobody who waits for them any more


@pytest.mark.parametrize("way", ["asked for", "by itself"])
async def test_a_clock_that_is_written_register_by_register_is_not_left_half_set(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter, own_map: Path, way: str
) -> None:
    """Half a time would let windows act at any time."""
    change(own_map, line={"write_function": 6})
    # Far from every window's edge.
    now = dt_util.now()
    await bench.set(CHARGE[0].start, far_from(now))
    entry = await add_inverter(bench.port, register_map="mine", set_clock_seconds=30)
    await bench.clock(local=dt_util.now().replace(tzinfo=None) - timedelta(hours=2, minutes=17))
    await bench.fault("late", only="write", ms=150, count=None)
    entry.runtime_data.rates.slow_next()
    ask = act(hass, entry, "set_clock") if way == "asked for" else entry.runtime_data.async_refresh()
    since = len(await bench.journal())
    work = hass.async_create_task(ask)
    await written(bench, since)
    work.cancel()
    with suppress(asyncio.CancelledError):
        await work
    assert await entry.runtime_data.inverter.reader.read_clock() == pytest.approx(0, abs=3)


async def test_a_poll_that_is_ended_does_not_leave_half_put_back(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    """What a crash left is put back by a poll, which a stop of Home Assistant cancels."""
    kept, journal_write = begun_commits(entry)
    await act(hass, entry, "apply_schedule", charge=TONIGHT, discharge=EVENING)
    await bench.set(CONTROL_WORD, [0])
    await bench.set(DISCHARGE[0].start, UNUSED)
    await journal_write(kept[0])
    await bench.fault("late", only="write", ms=200, count=None)
    entry.runtime_data.rates.slow_next()
    entry.runtime_data.monitor._put_back_due = 0.0
    since = len(await bench.journal())
    work = hass.async_create_task(entry.runtime_data.async_refresh())
    await written(bench, since)
    work.cancel()
    with suppress(asyncio.CancelledError):
        await work
    assert await held(bench) == FACTORY
    assert await bench.registers("holding", CONTROL_WORD) == [1], "armed again"
