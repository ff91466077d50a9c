"""What happens to a schedule after a commit: changed by another hand, uncertain, cut off by a crash, put back, worn."""

import asyncio
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from homeassistant.core import HomeAssistant
from homeassistant.exceptions import HomeAssistantError, ServiceValidationError
from homeassistant.helpers import issue_registry as ir
from homeassistant.setup import async_setup_component
from homeassistant.util import dt as dt_util
from pytest_homeassistant_custom_component.common import MockConfigEntry
from pytest_homeassistant_custom_component.typing import ClientSessionGenerator

from custom_components import chargehand
from custom_components.chargehand.changes.wear import MANY_COMMITS
from tests.bench.remote import Bench
from tests.bench.teasel import CHARGE, CONTROL_WORD, DISCHARGE
from tests.calls import act, begun_commits, entity_id, hurry, record_events, set_entity, state
from tests.conftest import AddInverter
from tests.teasel import EVENING, EVENING_HELD, FACTORY, TONIGHT, UNUSED, WANTED, held
from tests.waiting import until


async def poll(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    entry.runtime_data.rates.slow_next()
    entry.runtime_data.monitor._put_back_due = 0.0
    await entry.runtime_data.async_refresh()
    await hass.async_block_till_done()


def issue(hass: HomeAssistant, entry: MockConfigEntry, kind: str) -> ir.IssueEntry | None:
    return ir.async_get(hass).async_get_issue("chargehand", f"{kind}_{entry.entry_id}")


def last_event(hass: HomeAssistant) -> dict[str, Any]:
    one = hass.states.get(entity_id(hass, "event", "schedule_event"))
    assert one is not None
    return dict(one.attributes)


@pytest.fixture
def messages(hass: HomeAssistant) -> list[str]:
    """What the logbook records, in words."""
    return record_events(hass, "chargehand_schedule", "message")


async def test_a_change_by_another_hand_is_told_with_what_changed(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, messages: list[str]
) -> None:
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    await bench.set(CHARGE[0].power, [100])
    await poll(hass, entry)
    assert state(hass, "sensor", "schedule_status").state == "changed_elsewhere"
    event = last_event(hass)
    assert event["event_type"] == "changed_elsewhere"
    assert event["changes"] == [{"what": "charge_window_1_power", "was": 3000.0, "now": 100.0}]
    assert messages[-1] == (
        "was changed elsewhere: charge window 1 now 01:00–05:00 at 100 W to 95 % (was 01:00–05:00 at 3000 W to 95 %)"
    )
    repair = issue(hass, entry, "changed_elsewhere")
    assert repair is not None
    assert repair.translation_placeholders is not None
    assert repair.translation_placeholders["changes"] == "charge window 1 power 3000 W to 100 W"
    before = len(messages)
    await poll(hass, entry)
    assert len(messages) == before, "recorded once"
    await bench.set(CHARGE[0].power, [3000])
    await poll(hass, entry)
    assert state(hass, "sensor", "schedule_status").state == "confirmed"
    assert issue(hass, entry, "changed_elsewhere") is None


async def test_a_control_that_shares_a_register_is_no_change_of_the_schedule(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    await set_entity(hass, "switch", "turn_on", "buzzer")
    await poll(hass, entry)
    assert state(hass, "sensor", "schedule_status").state == "confirmed"
    await act(hass, entry, "restore_schedule")
    assert await bench.registers("holding", CONTROL_WORD) == [0b101], (
        "the buzzer stays on when the schedule is put back"
    )


async def test_polls_beside_commits_never_take_our_own_change_for_another_hands(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, messages: list[str]
) -> None:
    async def keep_polling(until: Callable[[], bool]) -> None:
        while not until():
            await poll(hass, entry)

    done = False

    async def commits() -> None:
        nonlocal done
        for number in range(6):
            await act(hass, entry, "apply_schedule", charge=TONIGHT if number % 2 else [], discharge=EVENING)
        done = True

    await asyncio.gather(commits(), keep_polling(lambda: done))
    assert not [message for message in messages if "elsewhere" in message]


async def fix(
    hass: HomeAssistant, entry: MockConfigEntry, client: ClientSessionGenerator, choice: str
) -> dict[str, Any]:
    """Go through the repair as the user interface does."""
    assert await async_setup_component(hass, "repairs", {})
    http = await client()
    handler = {"handler": "chargehand", "issue_id": f"changed_elsewhere_{entry.entry_id}"}
    flow = await (await http.post("/api/repairs/issues/fix", json=handler)).json()
    assert flow["type"] == "menu"
    assert flow["menu_options"] == ["keep", "put_back"]
    answer = await http.post(f"/api/repairs/issues/fix/{flow['flow_id']}", json={"next_step_id": choice})
    result: dict[str, Any] = await answer.json()
    return result


def confirmation(done: dict[str, Any], issue: str = "changed_elsewhere") -> str:
    """What the dialog says at its end: the text of the flow's description, as the user interface looks it up."""
    texts = json.loads((Path(chargehand.__file__).parent / "translations/en.json").read_text())["issues"]
    text: str = texts[issue]["fix_flow"]["create_entry"][done["description"]]
    return text.format(**done["description_placeholders"])


async def test_the_repair_puts_mine_back(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, hass_client: ClientSessionGenerator
) -> None:
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    await bench.set(CHARGE[0].start, FACTORY)
    await poll(hass, entry)
    done = await fix(hass, entry, hass_client, "put_back")
    assert done["type"] == "create_entry"
    assert confirmation(done) == (
        "Done, and read back. Teasel T5 now holds: charge 01:00–05:00 3000 W to 95 %; discharge never; armed"
    )
    assert await held(bench) == WANTED
    assert issue(hass, entry, "changed_elsewhere") is None
    assert state(hass, "sensor", "schedule_status").state == "confirmed"


async def test_the_repair_keeps_theirs(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, hass_client: ClientSessionGenerator
) -> None:
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    await bench.set(CHARGE[0].start, FACTORY)
    await poll(hass, entry)
    done = await fix(hass, entry, hass_client, "keep")
    assert confirmation(done) == (
        "Chargehand wrote nothing. You have accepted the schedule that Teasel T5 holds: "
        "charge 22:40–02:20 2000 W to 100 %; discharge never; armed"
    )
    assert await held(bench) == FACTORY
    await poll(hass, entry)
    assert state(hass, "sensor", "schedule_status").state == "confirmed"
    assert issue(hass, entry, "changed_elsewhere") is None


async def test_a_repair_that_fails_says_why_and_the_issue_stays(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, hass_client: ClientSessionGenerator
) -> None:
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    await bench.set(CHARGE[0].start, FACTORY)
    await poll(hass, entry)
    await bench.gateway(down=True)
    done = await fix(hass, entry, hass_client, "put_back")
    assert done["type"] == "abort"
    assert done["reason"] == "failed"
    assert issue(hass, entry, "changed_elsewhere") is not None


async def test_restore_puts_back_the_schedule_before_and_a_second_call_undoes_it(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    with pytest.raises(ServiceValidationError) as none:
        await act(hass, entry, "restore_schedule")
    assert none.value.translation_key == "nothing_before"
    await act(hass, entry, "apply_schedule", charge=TONIGHT, discharge=EVENING)
    await act(hass, entry, "apply_schedule", charge=TONIGHT, discharge=EVENING)
    receipt = await act(hass, entry, "restore_schedule")
    assert receipt["outcome"] == "confirmed"
    assert await held(bench) == FACTORY
    assert await held(bench, DISCHARGE[0]) == UNUSED
    await act(hass, entry, "restore_schedule")
    assert await held(bench) == WANTED


async def test_what_was_confirmed_is_still_known_after_a_restart(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    await hass.config_entries.async_unload(entry.entry_id)
    await bench.set(CHARGE[0].power, [100])
    await hass.config_entries.async_setup(entry.entry_id)
    await hass.async_block_till_done()
    assert state(hass, "sensor", "schedule_status").state == "changed_elsewhere"
    await act(hass, entry, "restore_schedule")
    assert await held(bench) == FACTORY


async def test_an_uncertain_schedule_stands_as_an_issue_until_a_poll_settles_it(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, messages: list[str]
) -> None:
    hurry(entry)
    await bench.fault("answer_lost", only="write")
    await bench.fault("reset", only="read", nth=3, count=None)
    with pytest.raises(HomeAssistantError) as failed:
        await act(hass, entry, "apply_schedule", charge=TONIGHT)
    assert failed.value.translation_key == "schedule_uncertain"
    assert issue(hass, entry, "schedule_uncertain") is not None
    await bench.clear_faults()
    await asyncio.sleep(5.1)
    await poll(hass, entry)
    assert state(hass, "sensor", "schedule_status").state == "confirmed"
    assert issue(hass, entry, "schedule_uncertain") is None
    assert messages[-1] == "has the new schedule after all: charge 01:00–05:00 3000 W to 95 %; discharge never; armed"
    assert await held(bench) == WANTED


@pytest.mark.parametrize(
    ("left", "then", "status", "event"),
    [
        ({}, FACTORY, "confirmed", "restored"),
        ({CHARGE[0].start: WANTED, DISCHARGE[0].start: EVENING_HELD}, WANTED, "confirmed", "confirmed"),
        ({CONTROL_WORD: [0], CHARGE[0].start: WANTED}, FACTORY, "confirmed", "restored"),
        ({CONTROL_WORD: [0]}, FACTORY, "confirmed", "restored"),
        ({CHARGE[0].start: [2247]}, [2247, *FACTORY[1:]], "changed_elsewhere", "changed_elsewhere"),
    ],
    ids=["nothing done", "all done", "windows half done", "disarmed only", "another hand"],
)
async def test_after_a_crash_the_journal_decides(
    hass: HomeAssistant,
    bench: Bench,
    add_inverter: AddInverter,
    left: dict[int, list[int]],
    then: list[int],
    status: str,
    event: str,
) -> None:
    entry = await add_inverter(bench.port)
    storage = entry.runtime_data.storage
    kept, journal_write = begun_commits(entry)
    await act(hass, entry, "apply_schedule", charge=TONIGHT, discharge=EVENING)
    await hass.config_entries.async_unload(entry.entry_id)
    # Put inverter and journal to where a crash in the middle of that commit would have left them.
    await bench.set(CHARGE[0].start, [*FACTORY, *UNUSED * 3])
    await bench.set(DISCHARGE[0].start, UNUSED * 2)
    for first, values in left.items():
        await bench.set(first, values)
    storage.confirmed = None
    await journal_write(kept[0])
    await hass.config_entries.async_setup(entry.entry_id)
    await hass.async_block_till_done()
    await poll(hass, entry)
    assert await held(bench) == then
    assert await bench.registers("holding", CONTROL_WORD) == [1]
    assert state(hass, "sensor", "schedule_status").state == status
    assert entry.runtime_data.storage.unfinished is None
    assert (issue(hass, entry, "changed_elsewhere") is not None) is (status == "changed_elsewhere")


async def test_a_read_only_entry_writes_nothing_even_to_finish_what_a_crash_left(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter
) -> None:
    entry = await add_inverter(bench.port)
    kept, journal_write = begun_commits(entry)
    await act(hass, entry, "apply_schedule", charge=TONIGHT, discharge=EVENING)
    await hass.config_entries.async_unload(entry.entry_id)
    await bench.set(CHARGE[0].start, [*FACTORY, *UNUSED * 3])
    await bench.set(CONTROL_WORD, [0])
    await journal_write(kept[0])
    hass.config_entries.async_update_entry(entry, options={"allow_control": False})
    written = len([one for one in await bench.journal() if one["function"] == 16])
    await hass.config_entries.async_setup(entry.entry_id)
    await hass.async_block_till_done()
    await poll(hass, entry)
    assert len([one for one in await bench.journal() if one["function"] == 16]) == written
    assert state(hass, "sensor", "schedule_status").state == "unconfirmed"


async def test_wear_is_counted_and_kept_over_a_restart(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    await poll(hass, entry)
    assert state(hass, "sensor", "registers_written").state == "4"
    assert state(hass, "sensor", "registers_written_today").state == "4"
    await hass.config_entries.async_reload(entry.entry_id)
    await hass.async_block_till_done()
    assert state(hass, "sensor", "registers_written").state == "4"


async def test_too_many_changes_in_a_day_are_told_with_who_makes_them(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    entry.runtime_data.storage.count(dt_util.now().date().isoformat(), commits=MANY_COMMITS)
    assert await async_setup_component(
        hass,
        "automation",
        {
            "automation": {
                "alias": "Fidgety",
                "id": "fidgety",
                "triggers": {"trigger": "event", "event_type": "fidget"},
                "actions": [
                    {
                        "action": "number.set_value",
                        "target": {"entity_id": entity_id(hass, "number", "charge_window_1_power")},
                        "data": {"value": 1700},
                    },
                    {"action": "button.press", "target": {"entity_id": entity_id(hass, "button", "apply_draft")}},
                ],
            }
        },
    )
    assert issue(hass, entry, "many_commits") is None
    hass.bus.async_fire("fidget")
    await until(lambda: issue(hass, entry, "many_commits") is not None)
    found = issue(hass, entry, "many_commits")
    assert found is not None
    assert found.translation_placeholders is not None
    assert "automation.fidgety" in found.translation_placeholders["caller"]
    assert state(hass, "sensor", "schedule_status").attributes["by"].startswith("automation.fidgety (button.")


async def test_removing_the_entry_removes_what_it_kept(
    hass: HomeAssistant, hass_storage: dict[str, Any], bench: Bench, entry: MockConfigEntry
) -> None:
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    assert f"chargehand.{entry.entry_id}" in hass_storage
    await hass.config_entries.async_remove(entry.entry_id)
    await hass.async_block_till_done()
    assert f"chargehand.{entry.entry_id}" not in hass_storage
