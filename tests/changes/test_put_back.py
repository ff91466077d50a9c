"""A schedule that another hand changed, put back or kept by an action; and why a change was not made, for scripts to read."""

from contextlib import suppress
from typing import Any

import pytest
from homeassistant.core import HomeAssistant
from homeassistant.exceptions import HomeAssistantError, ServiceValidationError
from homeassistant.setup import async_setup_component
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components.chargehand.core.schedule.journal import Entry
from tests.bench.remote import Bench
from tests.bench.teasel import CHARGE, CONTROL_WORD
from tests.calls import act, begun_commits, entity_id, hurry, killed, record_events, set_entity, state
from tests.changes.test_schedule_monitor import issue, poll
from tests.conftest import AddInverter
from tests.teasel import FACTORY, TONIGHT, WANTED, held, registers
from tests.waiting import until


def status(hass: HomeAssistant) -> dict[str, Any]:
    """The attributes of the schedule's status."""
    return dict(state(hass, "sensor", "schedule_status").attributes)


async def test_the_confirmed_schedule_is_put_back_and_counted(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    await act(hass, entry, "apply_schedule", charge=[], armed=True)
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    await bench.set(CHARGE[0].start, FACTORY)
    await poll(hass, entry)
    receipt = await act(hass, entry, "restore_schedule", which="confirmed")
    assert receipt["outcome"] == "confirmed"
    assert {"what": "charge_window_1_start", "was": "22:40", "now": "01:00"} in receipt["changes"]
    assert await held(bench) == WANTED
    assert state(hass, "sensor", "schedule_status").state == "confirmed"
    assert issue(hass, entry, "changed_elsewhere") is None
    assert status(hass)["put_back_today"] == 1
    assert (await act(hass, entry, "restore_schedule", which="confirmed"))["outcome"] == "unchanged"
    assert status(hass)["put_back_today"] == 1, "nothing was written"


async def test_a_put_back_that_does_not_take_counts_too_for_it_has_worn_the_registers(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    hurry(entry)
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    await bench.set(CHARGE[0].power, [100])
    await poll(hass, entry)
    await bench.fault("write_ignored", count=None)
    with pytest.raises(HomeAssistantError):
        await act(hass, entry, "restore_schedule", which="confirmed")
    assert status(hass)["put_back_today"] == 1
    assert state(hass, "sensor", "schedule_status").state == "changed_elsewhere", "theirs is still there"
    await bench.clear_faults()
    assert (await act(hass, entry, "restore_schedule", which="confirmed"))["outcome"] == "confirmed"
    assert await held(bench) == WANTED
    assert status(hass)["put_back_today"] == 2
    await hass.config_entries.async_reload(entry.entry_id)
    await hass.async_block_till_done()
    assert status(hass)["put_back_today"] == 2, "kept over a restart"


async def test_a_put_back_that_a_crash_cut_off_leaves_theirs_as_theirs(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    await bench.set(CHARGE[0].power, [100])
    await poll(hass, entry)
    kept, journal_write = begun_commits(entry)
    await act(hass, entry, "restore_schedule", which="confirmed")
    await hass.config_entries.async_unload(entry.entry_id)
    # As a crash before the first write would have left them.
    await bench.set(CHARGE[0].power, [100])
    await journal_write(kept[0])
    await hass.config_entries.async_setup(entry.entry_id)
    await hass.async_block_till_done()
    await poll(hass, entry)
    assert state(hass, "sensor", "schedule_status").state == "changed_elsewhere"
    assert (await act(hass, entry, "restore_schedule", which="confirmed"))["outcome"] == "confirmed"
    assert await held(bench) == WANTED


@pytest.mark.parametrize(
    ("found", "status"),
    [(registers("01:11", "04:44", 1650, 77), "changed_elsewhere"), (WANTED, "confirmed")],
    ids=["theirs", "mine"],
)
async def test_a_put_back_that_a_crash_cut_off_and_another_hand_has_overtaken_leaves_mine_as_mine(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, found: list[int], status: str
) -> None:
    storage = entry.runtime_data.storage
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    theirs = await entry.runtime_data.inverter.read_image()
    theirs = {**theirs, **{at: 100 for at in theirs if at[1] == CHARGE[0].power}}
    await hass.config_entries.async_unload(entry.entry_id)
    # A crash while theirs was being replaced by something that was never confirmed; since then it was changed once more.
    killed(storage._section)
    await storage.write(
        Entry(before=theirs, after={**theirs, **{at: 200 for at in theirs if at[1] == CHARGE[0].power}})
    )
    await bench.set(CHARGE[0].start, found)
    await hass.config_entries.async_setup(entry.entry_id)
    await hass.async_block_till_done()
    await poll(hass, entry)
    assert state(hass, "sensor", "schedule_status").state == status
    assert entry.runtime_data.storage.unfinished is None
    assert await held(bench) == found
    await act(hass, entry, "restore_schedule", which="confirmed")
    assert await held(bench) == WANTED


async def test_a_change_that_another_hand_made_unseen_is_not_confirmed_by_a_commit_that_fails(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    hurry(entry)
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    await bench.set(CHARGE[0].power, [100])
    await bench.fault("write_ignored", count=None)
    with pytest.raises(HomeAssistantError):
        await act(hass, entry, "apply_schedule", charge=[], armed=True)
    await poll(hass, entry)
    assert state(hass, "sensor", "schedule_status").state == "changed_elsewhere"
    assert issue(hass, entry, "changed_elsewhere") is not None


async def test_a_put_back_that_was_uncertain_and_is_proven_later_ends_the_repair(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    hurry(entry)
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    await bench.set(CHARGE[0].power, [100])
    await poll(hass, entry)
    assert issue(hass, entry, "changed_elsewhere") is not None
    # The first read is the one before the write; none after it is answered.
    await bench.fault("exception", code=4, only="read", nth=2, count=None)
    with pytest.raises(HomeAssistantError) as failed:
        await act(hass, entry, "restore_schedule", which="confirmed")
    assert failed.value.translation_key == "schedule_uncertain"
    await bench.clear_faults()
    await poll(hass, entry)
    await poll(hass, entry)
    assert await held(bench) == WANTED
    assert state(hass, "sensor", "schedule_status").state == "confirmed"
    assert issue(hass, entry, "schedule_uncertain") is None
    assert issue(hass, entry, "changed_elsewhere") is None
    # Changed to the same once more, it is reported once more.
    await bench.set(CHARGE[0].power, [100])
    await poll(hass, entry)
    assert issue(hass, entry, "changed_elsewhere") is not None


async def test_nothing_to_put_back_is_refused_with_what_to_do(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    with pytest.raises(ServiceValidationError, match="There is no confirmed schedule to put back") as none:
        await act(hass, entry, "restore_schedule", which="confirmed")
    assert none.value.translation_key == "nothing_confirmed"
    assert await held(bench) == FACTORY


async def test_found_schedules_are_kept_and_watched_from_then_on(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    await bench.set(CHARGE[0].power, [100])
    await poll(hass, entry)
    kept = await act(hass, entry, "keep_schedule")
    report = {key: kept.pop(key) for key in ("title", "message")}
    assert report["title"] == "The other schedule is kept"
    assert "charge 01:00–05:00 100 W to 95 %" in report["message"]
    assert kept == {
        "charge": [{"start": "01:00", "end": "05:00", "power": 100.0, "stop_level": 95.0}],
        "discharge": [],
        "armed": True,
    }
    assert await bench.registers("holding", CHARGE[0].power) == [100]
    assert state(hass, "sensor", "schedule_status").state == "confirmed"
    assert status(hass)["by"].endswith("(action keep_schedule)")
    assert issue(hass, entry, "changed_elsewhere") is None
    await bench.set(CHARGE[0].power, [3000])
    await poll(hass, entry)
    assert state(hass, "sensor", "schedule_status").state == "changed_elsewhere"


async def test_what_is_kept_is_no_longer_uncertain(hass: HomeAssistant, bench: Bench, entry: MockConfigEntry) -> None:
    hurry(entry)
    await bench.fault("answer_lost", only="write")
    await bench.fault("reset", only="read", nth=3, count=None)
    with pytest.raises(HomeAssistantError):
        await act(hass, entry, "apply_schedule", charge=TONIGHT)
    assert issue(hass, entry, "schedule_uncertain") is not None
    await bench.clear_faults()

    async def kept() -> bool:
        """Press until the connection, which was dropped unanswered, is made again."""
        with suppress(HomeAssistantError):
            await act(hass, entry, "keep_schedule")
            return True
        return False

    await until(kept)
    assert issue(hass, entry, "schedule_uncertain") is None
    assert entry.runtime_data.storage.unfinished is None


async def test_a_read_only_entry_keeps_but_puts_nothing_back(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter
) -> None:
    entry = await add_inverter(bench.port, allow_control=False)
    await act(hass, entry, "keep_schedule")
    await bench.set(CHARGE[0].power, [100])
    await poll(hass, entry)
    with pytest.raises(ServiceValidationError) as refused:
        await act(hass, entry, "restore_schedule", which="confirmed")
    assert refused.value.translation_key == "control_not_allowed"
    assert await bench.registers("holding", CHARGE[0].power) == [100]
    assert status(hass)["last_failure"]["key"] == "control_not_allowed"


async def test_an_unreachable_inverter_keeps_nothing(hass: HomeAssistant, bench: Bench, entry: MockConfigEntry) -> None:
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    await bench.set(CHARGE[0].power, [100])
    await poll(hass, entry)
    await bench.gateway(down=True)
    with pytest.raises(HomeAssistantError) as failed:
        await act(hass, entry, "keep_schedule")
    assert failed.value.translation_key == "line_down"
    assert state(hass, "sensor", "schedule_status").state == "changed_elsewhere"


async def test_a_script_that_goes_on_after_an_error_can_read_why(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    assert status(hass)["last_failure"] is None
    script = {
        "alias": "Too much",
        "sequence": [
            {
                "action": "button.press",
                "continue_on_error": True,
                "target": {"entity_id": entity_id(hass, "button", "apply_draft")},
            },
            {
                "event": "why",
                "event_data": {
                    "why": "{{ state_attr('" + entity_id(hass, "sensor", "schedule_status") + "', 'last_failure') }}"
                },
            },
        ],
    }
    assert await async_setup_component(hass, "script", {"script": {"too_much": script}})
    reasons = record_events(hass, "why", "why")
    await set_entity(hass, "number", "set_value", "charge_window_1_power", value=1000)
    await bench.gateway(down=True)
    await hass.services.async_call("script", "too_much", blocking=True)
    await hass.async_block_till_done()
    (why,) = reasons
    assert why["key"] == "line_down"
    assert why["text"].startswith("Chargehand could not reach the inverter, and nothing was written: ")
    assert why["by"].startswith("script.too_much (button.")


async def test_the_failure_stands_until_a_change_is_confirmed(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    with pytest.raises(ServiceValidationError) as refused:
        await act(hass, entry, "apply_schedule", charge=[{"start": "25:00", "end": "05:00"}])
    assert status(hass)["last_failure"]["key"] == "schedule_rejected"
    assert status(hass)["last_failure"]["text"] == str(refused.value)
    await poll(hass, entry)
    assert status(hass)["last_failure"] is not None
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    assert status(hass)["last_failure"] is None


async def test_disarming_does_not_wait_for_a_battery_that_tells_nothing_of_itself(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    point = entry.runtime_data.inverter.map.readings["battery_temperature"].point
    ((_, first),) = point.addresses
    await bench.fault("exception", only="read", touches=first, count=None)
    receipt = await act(hass, entry, "apply_schedule", armed=False)
    assert receipt["outcome"] == "confirmed"
    assert await bench.registers("holding", CONTROL_WORD) == [0]
    with pytest.raises(HomeAssistantError) as failed:
        await act(hass, entry, "apply_schedule", charge=TONIGHT)
    assert failed.value.translation_key == "line_down", "a charge is not armed without knowing the temperature"
    assert await bench.registers("holding", CONTROL_WORD) == [0]
    await act(hass, entry, "apply_schedule", charge=[], armed=True)
    await set_entity(hass, "switch", "turn_off", "timed_charging")
    assert await bench.registers("holding", CONTROL_WORD) == [0]
