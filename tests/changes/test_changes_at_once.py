"""Changes that are asked for at one time: each in its turn, by what holds then, and to its end once it was begun."""

import asyncio
import random
from collections.abc import Callable, Coroutine
from contextlib import suppress
from typing import Any

import pytest
from homeassistant.core import HomeAssistant
from homeassistant.exceptions import ServiceValidationError
from homeassistant.setup import async_setup_component
from pytest_homeassistant_custom_component.common import MockConfigEntry

from tests.bench.remote import Bench
from tests.bench.teasel import CHARGE, CONTROL_WORD
from tests.calls import act, device_id, edit_and_apply, hurry, record_events, set_entity, state
from tests.changes.test_schedule_monitor import issue, poll
from tests.teasel import EVENING, FACTORY, LATER, LATER_HELD, TONIGHT, WANTED, held
from tests.waiting import written

AFTERNOON = [{"start": "13:00", "end": "14:00", "power": 500, "stop_level": 50}]


async def begun(hass: HomeAssistant, work: Coroutine[Any, Any, dict[str, Any]]) -> asyncio.Task[dict[str, Any]]:
    """Ask for a change, and go on as soon as it is at work."""
    task = hass.async_create_task(work, eager_start=True)
    await asyncio.sleep(0.02)
    assert not task.done()
    return task


async def slow_writes(bench: Bench) -> None:
    """Let every write take its time, so that something can come between."""
    await bench.fault("late", only="write", ms=200, count=None)


async def test_put_back_behind_a_change_puts_back_what_is_confirmed_by_then(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    """The change is the newer wish: what was confirmed before it must not undo it."""
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    await bench.set(CHARGE[0].start, FACTORY)
    await poll(hass, entry)
    await slow_writes(bench)
    change = await begun(hass, act(hass, entry, "apply_schedule", charge=LATER))
    put_back = await begun(hass, act(hass, entry, "restore_schedule", which="confirmed"))
    assert (await change)["outcome"] == "confirmed"
    assert (await put_back)["outcome"] == "unchanged"
    assert await held(bench) == LATER_HELD
    assert state(hass, "sensor", "schedule_status").attributes["put_back_today"] == 0


async def test_restore_behind_a_change_undoes_that_change(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    await slow_writes(bench)
    change = await begun(hass, act(hass, entry, "apply_schedule", charge=LATER))
    restore = await begun(hass, act(hass, entry, "restore_schedule"))
    assert (await change)["outcome"] == "confirmed"
    assert (await restore)["outcome"] == "confirmed"
    assert await held(bench) == WANTED


async def test_restore_behind_the_very_first_change_is_not_refused(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    await slow_writes(bench)
    change = await begun(hass, act(hass, entry, "apply_schedule", charge=TONIGHT))
    restore = await begun(hass, act(hass, entry, "restore_schedule"))
    await change
    assert (await restore)["outcome"] == "confirmed"
    assert await held(bench) == FACTORY


async def test_a_script_that_is_stopped_leaves_no_change_half_done(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    """Mode restart stops the first run in the middle of its writes."""
    script = {
        "alias": "Set it",
        "mode": "restart",
        "fields": {"charge": {}, "discharge": {}},
        "sequence": [
            {
                "action": "chargehand.apply_schedule",
                "data": {
                    "device_id": device_id(hass, entry),
                    "charge": "{{ charge }}",
                    "discharge": "{{ discharge }}",
                },
            }
        ],
    }
    assert await async_setup_component(hass, "script", {"script": {"set_it": script}})
    events = record_events(hass, "chargehand_schedule", "type")
    await slow_writes(bench)
    await hass.services.async_call("script", "set_it", {"charge": TONIGHT, "discharge": EVENING})
    await written(bench)
    await hass.services.async_call("script", "set_it", {"charge": LATER, "discharge": EVENING}, blocking=True)
    await hass.async_block_till_done()
    assert await held(bench) == LATER_HELD
    assert await bench.registers("holding", CONTROL_WORD) == [1]
    assert events == ["confirmed", "confirmed"], "both were carried out, one after the other"
    assert state(hass, "sensor", "schedule_status").state == "confirmed"


async def test_a_change_whose_caller_is_gone_ends_and_is_told(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    await slow_writes(bench)
    change = await begun(hass, act(hass, entry, "apply_schedule", charge=TONIGHT, discharge=EVENING))
    await written(bench)
    change.cancel()
    with pytest.raises(asyncio.CancelledError):
        await change
    assert await held(bench) == WANTED
    assert await bench.registers("holding", CONTROL_WORD) == [1]
    assert state(hass, "sensor", "schedule_status").state == "confirmed"
    assert entry.runtime_data.storage.unfinished is None
    assert entry.runtime_data.storage.commits_today == 1


async def test_a_change_that_fails_when_its_caller_is_gone_is_told_all_the_same(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    hurry(entry)
    await bench.fault("write_ignored", count=None)
    change = await begun(hass, act(hass, entry, "apply_schedule", charge=TONIGHT))
    change.cancel()
    with pytest.raises(asyncio.CancelledError):
        await change
    event = hass.states.get("event.teasel_t5_schedule_event")
    assert event is not None
    assert event.attributes["event_type"] == "restored"


async def test_a_change_that_still_waits_is_not_begun_when_its_caller_is_gone(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    await slow_writes(bench)
    first = await begun(hass, act(hass, entry, "apply_schedule", charge=TONIGHT))
    second = await begun(hass, act(hass, entry, "apply_schedule", charge=LATER))
    second.cancel()
    await first
    await hass.async_block_till_done()
    assert second.cancelled()
    assert await held(bench) == WANTED


async def test_an_inverter_that_is_removed_during_a_change_leaves_no_file_behind(
    hass: HomeAssistant, hass_storage: dict[str, Any], bench: Bench, entry: MockConfigEntry
) -> None:
    await slow_writes(bench)
    first = await begun(hass, act(hass, entry, "apply_schedule", charge=TONIGHT))
    second = await begun(hass, act(hass, entry, "apply_schedule", charge=LATER))
    store = entry.runtime_data.store._store
    await hass.config_entries.async_remove(entry.entry_id)
    assert (await first)["outcome"] == "confirmed"
    assert (await second)["outcome"] == "confirmed"
    await hass.async_block_till_done()
    assert await held(bench) == LATER_HELD
    assert store._delay_handle is None, "nothing waits to be written any more"
    assert f"chargehand.{entry.entry_id}" not in hass_storage
    assert issue(hass, entry, "schedule_uncertain") is None


# ---- many at once


@pytest.mark.parametrize("seed", range(4))
async def test_many_changes_at_once_some_given_up_leave_one_confirmed_schedule(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, seed: int
) -> None:
    chance = random.Random(seed)
    hurry(entry)
    coordinator = entry.runtime_data
    types = record_events(hass, "chargehand_schedule", "type")
    await bench.fault("late", only="write", ms=80, count=None)

    async def refresh() -> None:
        coordinator.rates.slow_next()
        await coordinator.async_refresh()

    asked: list[Callable[[], Coroutine[Any, Any, Any]]] = [
        lambda: act(hass, entry, "apply_schedule", charge=TONIGHT),
        lambda: act(hass, entry, "apply_schedule", charge=LATER, discharge=EVENING),
        lambda: act(hass, entry, "apply_schedule", charge=[*TONIGHT, *AFTERNOON], discharge=[]),
        lambda: act(hass, entry, "restore_schedule"),
        lambda: act(hass, entry, "restore_schedule", which="confirmed"),
        lambda: act(hass, entry, "keep_schedule"),
        lambda: act(hass, entry, "set_clock"),
        lambda: edit_and_apply(hass, "number", "charge_window_1_power", value=50 * chance.randint(1, 60)),
        lambda: set_entity(hass, "switch", chance.choice(["turn_on", "turn_off"]), "timed_charging"),
        refresh,
    ]

    async def one() -> None:
        await asyncio.sleep(chance.random() * 4)
        work = hass.async_create_task(chance.choice(asked)())
        if chance.random() < 0.35:
            await asyncio.sleep(chance.random() * 0.5)
            work.cancel()
        with suppress(asyncio.CancelledError, ServiceValidationError):
            # Refused at most for want of something to put back.
            await work

    await asyncio.gather(*(one() for _ in range(20)))
    await bench.clear_faults()
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    await poll(hass, entry)
    assert set(types) == {"confirmed"}, "nobody else was at the inverter, and nothing failed"
    assert coordinator.storage.unfinished is None
    assert coordinator.inverter.same(await coordinator.inverter.read_image(), coordinator.storage.confirmed)
    assert state(hass, "sensor", "schedule_status").state == "confirmed"
