"""The commit's journal on a real disk: without it there nothing is sent, and what cannot be cleared from it raises no alarm."""

import asyncio
import json
import resource
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from homeassistant.core import CoreState, HomeAssistant
from homeassistant.exceptions import HomeAssistantError
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components.chargehand.changes.storage import Storage
from custom_components.chargehand.core.schedule.journal import Entry, NoJournal
from custom_components.chargehand.store import EntryStore
from tests.bench.remote import Bench
from tests.bench.teasel import CHARGE, CONTROL_WORD
from tests.calls import act, begun_commits, edit_and_apply, hurry, record_events, state
from tests.changes.test_schedule_monitor import issue, poll
from tests.teasel import EVENING, FACTORY, LATER, LATER_HELD, TONIGHT, WANTED, held

SMALL = 64
"""Bytes that a file may have on a disk that is full: less than any journal."""


@pytest.fixture
def hass_storage() -> dict[str, Any]:
    """Home Assistant's storage is the real one, on disk."""
    return {}


@contextmanager
def full_disk() -> Iterator[None]:
    """Let the kernel refuse what is written to files, as a disk without room does; what is there stays and can be read."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (SMALL, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


def kept(hass: HomeAssistant, entry: MockConfigEntry) -> Path:
    """The storage's file."""
    return Path(hass.config.path(".storage", f"chargehand.{entry.entry_id}"))


def on_disk(hass: HomeAssistant, entry: MockConfigEntry) -> dict[str, Any]:
    data: dict[str, Any] = json.loads(kept(hass, entry).read_text())["data"]["changes"]
    return data


async def writes(bench: Bench) -> int:
    return len([one for one in await bench.journal() if one["function"] in {6, 16}])


async def test_a_full_disk_refuses_a_commit_before_its_first_write(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    before = await writes(bench)
    with (
        full_disk(),
        pytest.raises(HomeAssistantError, match="to Home Assistant's disk") as refused,
    ):
        await act(hass, entry, "apply_schedule", charge=LATER)
    assert refused.value.translation_key == "no_journal"
    assert await writes(bench) == before
    assert await held(bench) == WANTED
    assert state(hass, "sensor", "schedule_status").state == "confirmed"
    assert state(hass, "sensor", "schedule_status").attributes["last_failure"]["key"] == "no_journal"
    assert entry.runtime_data.storage.unfinished is None
    with full_disk(), pytest.raises(HomeAssistantError):
        await edit_and_apply(hass, "number", "charge_window_1_power", value=1000)
    assert await writes(bench) == before, "a dashboard's change has a journal too"
    assert (await act(hass, entry, "apply_schedule", charge=LATER))["outcome"] == "confirmed"
    assert await held(bench) == LATER_HELD
    await hass.config_entries.async_unload(entry.entry_id)
    assert on_disk(hass, entry)["unfinished"] is None


async def test_a_first_commit_whose_journal_has_no_place_is_refused(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    """A directory where the file should be can be neither written nor read."""
    kept(hass, entry).unlink(missing_ok=True)
    kept(hass, entry).mkdir(parents=True)
    with pytest.raises(HomeAssistantError) as refused:
        await act(hass, entry, "apply_schedule", charge=TONIGHT)
    assert refused.value.translation_key == "no_journal"
    assert await writes(bench) == 0
    kept(hass, entry).rmdir()
    assert (await act(hass, entry, "apply_schedule", charge=TONIGHT))["outcome"] == "confirmed"


async def test_a_storage_that_is_gone_is_a_disk_that_takes_nothing(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    storage = kept(hass, entry).parent
    aside = storage.rename(storage.with_name("aside"))
    storage.write_text("no directory")
    with pytest.raises(HomeAssistantError) as refused:
        await act(hass, entry, "apply_schedule", charge=TONIGHT)
    assert refused.value.translation_key == "no_journal"
    assert await writes(bench) == 0
    storage.unlink()
    aside.rename(storage)
    assert (await act(hass, entry, "apply_schedule", charge=TONIGHT))["outcome"] == "confirmed"


async def test_a_change_that_waits_while_home_assistant_begins_to_stop_is_not_begun(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    """From then on nothing is written to disk until all is over."""
    hurry(entry)
    await bench.fault("late", only="write", ms=300)
    first = asyncio.create_task(act(hass, entry, "apply_schedule", charge=TONIGHT))
    await asyncio.sleep(0.05)
    second = asyncio.create_task(act(hass, entry, "apply_schedule", charge=LATER))
    await asyncio.sleep(0.05)
    hass.set_state(CoreState.stopping)
    try:
        assert (await first)["outcome"] == "confirmed"
        with pytest.raises(HomeAssistantError) as refused:
            await second
        assert refused.value.translation_key == "no_journal"
        assert await held(bench) == WANTED
    finally:
        hass.set_state(CoreState.running)


async def test_a_journal_that_cannot_be_cleared_is_settled_at_the_next_start_without_an_alarm(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    failed: list[str] = []
    await act(hass, entry, "apply_schedule", charge=LATER)
    inverter = entry.runtime_data.inverter
    count = inverter.writer.on_written
    full = full_disk()

    def the_disk_fills(registers: int) -> None:
        if not failed:
            failed.append("full")
            full.__enter__()
        count(registers)

    inverter.writer.on_written = the_disk_fills
    try:
        receipt = await act(hass, entry, "apply_schedule", charge=TONIGHT)
        assert receipt["outcome"] == "confirmed"
        assert state(hass, "sensor", "schedule_status").state == "confirmed"
        # As a crash leaves it: nothing of what came after the first write has reached the disk.
        await hass.config_entries.async_unload(entry.entry_id)
    finally:
        full.__exit__(None, None, None)
    assert on_disk(hass, entry)["unfinished"] is not None
    types = record_events(hass, "chargehand_schedule", "type")
    await hass.config_entries.async_setup(entry.entry_id)
    await hass.async_block_till_done()
    await poll(hass, entry)
    assert state(hass, "sensor", "schedule_status").state == "confirmed"
    assert set(types) <= {"confirmed"}
    assert issue(hass, entry, "schedule_uncertain") is None
    assert issue(hass, entry, "changed_elsewhere") is None
    assert on_disk(hass, entry)["unfinished"] is None
    assert await held(bench) == WANTED
    await act(hass, entry, "restore_schedule")
    assert await held(bench) == LATER_HELD, "what was before it is known too"


async def test_what_an_earlier_commit_left_open_stays_open_when_another_is_refused(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    storage: Storage = entry.runtime_data.storage
    inverter = entry.runtime_data.inverter
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    image = await inverter.read_image()
    elsewhere = {**image, **{at: 7 for at in image if at[1] == CHARGE[0].start}}
    earlier = Entry(before=elsewhere, after={**elsewhere, **{at: 9 for at in image if at[1] == CHARGE[0].start}})
    await storage.write(earlier)
    assert Entry.from_dict(on_disk(hass, entry)["unfinished"]) == earlier
    with full_disk(), pytest.raises(NoJournal):
        await inverter.put_image(dict.fromkeys(image, 0))
    assert storage.unfinished == earlier
    assert Entry.from_dict(on_disk(hass, entry)["unfinished"]) == earlier


async def test_counts_and_schedules_are_read_from_the_same_file_as_before(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    await hass.config_entries.async_unload(entry.entry_id)
    stored = json.loads(kept(hass, entry).read_text())
    assert (stored["version"], stored["key"]) == (1, f"chargehand.{entry.entry_id}")
    store = EntryStore(hass, entry.entry_id)
    await store.load()
    again = Storage(store.section("changes"))
    assert again.registers_written == 4
    assert again.confirmed is not None
    assert again.previous is not None
    assert FACTORY[0] == again.previous[next(at for at in again.previous if at[1] == CHARGE[0].start)]


@pytest.mark.parametrize("broken", ["previous", "confirmed"])
async def test_half_a_schedule_is_put_back_also_where_something_else_in_the_file_is_not_understood(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, broken: str
) -> None:
    begun, write = begun_commits(entry)
    await act(hass, entry, "apply_schedule", charge=TONIGHT, discharge=EVENING)
    await hass.config_entries.async_unload(entry.entry_id)
    await write(begun[0])
    # As a crash has left it: disarmed, half of the window written.
    await bench.set(CONTROL_WORD, [0])
    await bench.set(CHARGE[0].start, [*WANTED[:2], *FACTORY[2:]])
    stored = json.loads(kept(hass, entry).read_text())
    stored["data"]["changes"][broken] = [["holding", "x", 1]]
    kept(hass, entry).write_text(json.dumps(stored))
    await hass.config_entries.async_setup(entry.entry_id)
    await hass.async_block_till_done()
    await poll(hass, entry)
    assert await held(bench) == FACTORY
    assert await bench.registers("holding", CONTROL_WORD) == [1]
