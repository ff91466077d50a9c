"""The draft: edits of windows write nothing until they are applied, and are one commit then."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from homeassistant.core import HomeAssistant
from homeassistant.data_entry_flow import FlowResultType, InvalidData
from homeassistant.exceptions import HomeAssistantError, ServiceValidationError
from homeassistant.util import dt as dt_util
from pytest_homeassistant_custom_component.common import MockConfigEntry, async_fire_time_changed

from tests.bench.remote import Bench
from tests.bench.teasel import CHARGE, CONTROL_WORD, DISCHARGE
from tests.calls import act, apply_draft, entity_id, find_entity, hurry, record_events, set_entity, state
from tests.changes.test_schedule_monitor import last_event, poll
from tests.conftest import QUICK, AddInverter
from tests.moved_time import HouseTime
from tests.teasel import FACTORY, LATER, LATER_HELD, TONIGHT, UNUSED, WANTED, held, registers
from tests.waiting import until

THREE_EDITS: list[tuple[str, str, dict[str, Any]]] = [
    ("time", "charge_window_1_start", {"time": "01:00:00"}),
    ("time", "charge_window_1_end", {"time": "05:00:00"}),
    ("number", "charge_window_1_power", {"value": 3000}),
]
EDITED = registers("01:00", "05:00", 3000, 100)


async def writes(bench: Bench) -> int:
    return len([one for one in await bench.journal() if one["function"] in {5, 6, 15, 16, 22, 23}])


async def edit(hass: HomeAssistant, platform: str, key: str, **data: Any) -> None:
    await set_entity(hass, platform, "set_value", key, **data)


async def edit_all(hass: HomeAssistant) -> None:
    for platform, key, data in THREE_EDITS:
        await edit(hass, platform, key, **data)


async def switch(hass: HomeAssistant, key: str, *, on: bool) -> None:
    await set_entity(hass, "switch", "turn_on" if on else "turn_off", key)


def draft(hass: HomeAssistant) -> dict[str, Any]:
    """The draft's state and attributes."""
    shown = state(hass, "binary_sensor", "draft")
    return {"state": shown.state, **shown.attributes}


def shown(hass: HomeAssistant, window: str = "charge_window_1") -> list[str]:
    """What the entities of a window show."""
    return [
        state(hass, "switch", f"{window}_active").state,
        state(hass, "time", f"{window}_start").state,
        state(hass, "time", f"{window}_end").state,
        state(hass, "number", f"{window}_power").state,
        state(hass, "number", f"{window}_stop_level").state,
    ]


AS_HELD = ["on", "22:40:00", "02:20:00", "2000.0", "100.0"]
AS_EDITED = ["on", "01:00:00", "05:00:00", "3000.0", "100.0"]


async def test_edits_of_start_end_and_limit_write_nothing_and_are_one_commit(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    types = record_events(hass, "chargehand_schedule", "type")
    assert (draft(hass)["state"], shown(hass)) == ("off", AS_HELD)
    await edit_all(hass)
    await poll(hass, entry)
    assert await writes(bench) == 0
    assert await held(bench) == FACTORY
    assert (draft(hass)["state"], shown(hass)) == ("on", AS_EDITED)
    assert draft(hass)["changes"] == (
        "charge window 1 now 01:00–05:00 at 3000 W to 100 % (was 22:40–02:20 at 2000 W to 100 %)"
    )
    assert state(hass, "sensor", "next_charge_start").state != "unknown", "what acts is what the inverter holds"
    await apply_draft(hass)
    assert await held(bench) == EDITED
    assert await writes(bench) == 1, "three settings of one window are one frame"
    assert entry.runtime_data.storage.commits_today == 1
    assert types == ["confirmed"]
    assert (draft(hass)["state"], shown(hass)) == ("off", AS_EDITED)
    assert state(hass, "sensor", "schedule_status").state == "confirmed"


async def test_a_page_that_sets_a_time_in_two_steps_lets_the_inverter_act_on_neither_alone(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    """From 11:30 PM to 12:30 AM by a field of twelve hours: the hour first, which makes it 12:30 PM."""
    await bench.set(CHARGE[0].start, registers("23:30", "05:00", 2000, 100))
    await poll(hass, entry)
    before = len(await bench.acted())
    for time in ("12:30:00", "00:30:00"):
        await edit(hass, "time", "charge_window_1_start", time=time)
        await poll(hass, entry)
    assert await bench.acted(before) == []
    assert await held(bench) == registers("23:30", "05:00", 2000, 100)
    await apply_draft(hass)
    assert await held(bench) == registers("00:30", "05:00", 2000, 100)


async def test_a_draft_that_is_discarded_leaves_what_the_inverter_holds(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    await edit_all(hass)
    await set_entity(hass, "button", "press", "discard_draft")
    assert (draft(hass)["state"], shown(hass)) == ("off", AS_HELD)
    with pytest.raises(ServiceValidationError) as nothing:
        await apply_draft(hass)
    assert nothing.value.translation_key == "no_draft"
    assert state(hass, "sensor", "schedule_status").attributes["last_failure"] is None
    assert await writes(bench) == 0


@pytest.mark.parametrize(
    ("platform", "key", "data", "reason"),
    [
        ("time", "charge_window_1_start", {"time": "05:00:00"}, "would start and end at 05:00"),
        ("number", "charge_window_1_power", {"value": 5001}, "5001"),
        ("number", "charge_window_1_stop_level", {"value": 9}, "9"),
    ],
)
async def test_an_edit_that_is_refused_says_why_and_leaves_the_draft_as_it_was(
    hass: HomeAssistant,
    bench: Bench,
    entry: MockConfigEntry,
    platform: str,
    key: str,
    data: dict[str, Any],
    reason: str,
) -> None:
    await edit_all(hass)
    with pytest.raises(ServiceValidationError, match=reason):
        await edit(hass, platform, key, **data)
    assert shown(hass) == AS_EDITED
    assert await writes(bench) == 0


async def test_edits_that_are_taken_back_end_the_draft(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    await edit(hass, "number", "charge_window_1_power", value=2500)
    assert draft(hass)["state"] == "on"
    await edit(hass, "number", "charge_window_1_power", value=2000)
    assert draft(hass)["state"] == "off"


async def test_what_another_hand_changes_meanwhile_is_told_and_stays_where_nobody_has_edited(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    await edit_all(hass)
    assert draft(hass)["changed_beneath"] is False
    theirs = registers("12:00", "13:00", 700, 50)
    await bench.set(CHARGE[1].start, theirs)
    await poll(hass, entry)
    assert draft(hass)["changed_beneath"] is True
    assert draft(hass)["inverter_changes"] == "charge window 2 now 12:00–13:00 at 700 W to 50 % (was unused)"
    assert shown(hass) == AS_EDITED
    await apply_draft(hass)
    assert await held(bench) == EDITED
    assert await held(bench, CHARGE[1]) == theirs


async def test_a_draft_survives_a_restart(hass: HomeAssistant, bench: Bench, entry: MockConfigEntry) -> None:
    await edit_all(hass)
    await hass.config_entries.async_reload(entry.entry_id)
    await hass.async_block_till_done()
    assert (draft(hass)["state"], shown(hass)) == ("on", AS_EDITED)
    assert await writes(bench) == 0
    await apply_draft(hass)
    assert await held(bench) == EDITED
    await hass.config_entries.async_reload(entry.entry_id)
    await hass.async_block_till_done()
    assert draft(hass)["state"] == "off"


async def test_a_draft_that_cannot_be_on_the_inverter_is_kept_with_every_reason(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    await bench.set(CHARGE[1].start, registers("06:00", "07:00", 1000, 90))
    await poll(hass, entry)
    await edit(hass, "time", "discharge_window_1_start", time="06:30:00")
    await edit(hass, "time", "discharge_window_1_end", time="23:00:00")
    with pytest.raises(ServiceValidationError) as refused:
        await apply_draft(hass)
    assert refused.value.translation_key == "schedule_rejected"
    kept = draft(hass)
    assert kept["state"] == "on"
    for window in ("charge window 1 (22:40–02:20)", "charge window 2 (06:00–07:00)"):
        assert window in str(refused.value)
        assert window in kept["why"]
    assert await writes(bench) == 0
    assert shown(hass, "discharge_window_1") == ["on", "06:30:00", "23:00:00", "5000.0", "10.0"]
    await edit(hass, "time", "discharge_window_1_start", time="07:00:00")
    assert draft(hass)["why"] is None, "it is another draft now"
    await edit(hass, "time", "discharge_window_1_end", time="22:00:00")
    await apply_draft(hass)
    assert await held(bench, DISCHARGE[0]) == registers("07:00", "22:00", 5000, 10)


async def test_a_draft_that_does_not_take_is_kept_and_can_be_applied_again(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    hurry(entry)
    await edit_all(hass)
    await bench.fault("write_ignored", count=None)
    with pytest.raises(HomeAssistantError) as failed:
        await apply_draft(hass)
    assert failed.value.translation_key == "schedule_restored"
    assert (draft(hass)["state"], shown(hass)) == ("on", AS_EDITED)
    assert draft(hass)["why"] == str(failed.value)
    await bench.clear_faults()
    await apply_draft(hass)
    assert await held(bench) == EDITED
    assert draft(hass)["state"] == "off"


async def test_a_draft_whose_commit_turns_out_to_have_taken_is_over(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    hurry(entry)
    await edit_all(hass)
    await bench.fault("answer_lost", only="write")
    await bench.fault("no_answer", only="read", nth=3, count=None)
    with pytest.raises(HomeAssistantError) as unsure:
        await apply_draft(hass)
    assert unsure.value.translation_key == "schedule_uncertain"
    assert draft(hass)["state"] == "on"
    await bench.clear_faults()
    await poll(hass, entry)
    await poll(hass, entry)
    assert state(hass, "sensor", "schedule_status").state == "confirmed"
    assert await held(bench) == EDITED
    assert draft(hass)["state"] == "off"


async def test_an_edit_made_while_the_draft_is_applied_is_the_next_draft(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    await edit_all(hass)
    await bench.fault("write_shows_late", ms=700)
    applying = hass.async_create_task(apply_draft(hass))
    await until(lambda: entry.runtime_data.storage.unfinished is not None)
    await edit(hass, "number", "discharge_window_1_power", value=1500)
    await edit(hass, "number", "charge_window_1_power", value=900)
    await applying
    assert await held(bench) == EDITED
    assert (draft(hass)["state"], draft(hass)["changed_beneath"]) == ("on", False)
    assert shown(hass) == ["on", "01:00:00", "05:00:00", "900.0", "100.0"]
    await apply_draft(hass)
    assert await held(bench) == registers("01:00", "05:00", 900, 100)


# ---- windows that are switched


async def test_off_takes_a_window_off_the_schedule_where_the_map_has_no_bit_for_it(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    await switch(hass, "charge_window_1_active", on=False)
    assert await writes(bench) == 0
    assert shown(hass)[:3] == ["off", "unknown", "unknown"]
    await apply_draft(hass)
    assert await held(bench) == registers("00:00", "00:00", 2000, 100), "limits stay: writing them would only wear"
    assert shown(hass) == ["off", *["unknown"] * 4]
    assert state(hass, "sensor", "next_charge_start").state == "unknown"
    await switch(hass, "charge_window_1_active", on=True)
    assert shown(hass) == ["on", "00:00:00", "01:00:00", "2000.0", "100.0"]


async def test_an_unused_window_shows_nothing_until_it_is_switched_on(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    assert await held(bench, DISCHARGE[0]) == UNUSED
    assert shown(hass, "discharge_window_1") == ["off", *["unknown"] * 4]
    await switch(hass, "discharge_window_1_active", on=True)
    assert shown(hass, "discharge_window_1") == ["on", "02:20:00", "03:20:00", "5000.0", "10.0"]
    await apply_draft(hass)
    assert await held(bench, DISCHARGE[0]) == registers("02:20", "03:20", 5000, 10)


async def test_off_clears_the_bit_where_the_map_has_one_and_the_times_stay(
    hass: HomeAssistant, socket_enabled: None, add_inverter: AddInverter
) -> None:
    """The Burdock keeps the first discharge window in 140, 141, 150 and 160, and its bit in 102 (tests/bench/burdock.py)."""
    serial = "B3-AM-2611-0042"
    async with await Bench.start(**QUICK, inverter="burdock") as bench:
        entry = await add_inverter(bench.port, register_map="burdock_b3", unique_id=serial)
        await act(
            hass,
            entry,
            "apply_schedule",
            discharge=[{"start": "17:00", "end": "19:00", "power": 1000, "stop_level": 30}],
        )
        times, (word,) = await bench.registers("holding", 140, 2), await bench.registers("holding", 102)
        assert word & 1
        before = await writes(bench)
        active = find_entity(hass, "switch", "discharge_window_1_active", serial)
        assert find_entity(hass, "switch", "charge_window_1_active", serial), "every window has one"
        await hass.services.async_call("switch", "turn_off", {"entity_id": active}, blocking=True)
        assert await writes(bench) == before
        await apply_draft(hass, serial)
        assert await bench.registers("holding", 102) == [word & ~1]
        assert await bench.registers("holding", 140, 2) == times
        assert await writes(bench) == before + 1


async def test_arming_acts_at_once_and_leaves_the_draft(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    await edit_all(hass)
    await switch(hass, "timed_charging", on=False)
    assert await bench.registers("holding", CONTROL_WORD) == [0]
    assert await held(bench) == FACTORY
    assert (draft(hass)["state"], draft(hass)["changed_beneath"], shown(hass)) == ("on", False, AS_EDITED)
    await apply_draft(hass)
    assert await bench.registers("holding", CONTROL_WORD) == [0], "and applying does not arm"
    assert await held(bench) == EDITED


# ---- what ends it


async def by_applying(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    await act(hass, entry, "apply_schedule", charge=LATER)


async def by_restoring(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    await act(hass, entry, "restore_schedule")


async def by_putting_back(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    await act(hass, entry, "restore_schedule", which="confirmed")


async def by_keeping(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    await act(hass, entry, "keep_schedule")


async def by_an_order(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    later = (dt_util.now() + timedelta(hours=1)).isoformat()
    await act(hass, entry, "apply_schedule", charge=LATER, until=later)


@pytest.mark.parametrize("change", [by_applying, by_restoring, by_putting_back, by_keeping, by_an_order])
async def test_every_commit_of_a_whole_schedule_ends_the_draft(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, change: Callable[..., Any]
) -> None:
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    await edit(hass, "number", "charge_window_1_power", value=1234)
    await change(hass, entry)
    assert draft(hass)["state"] == "off"
    expected = {by_restoring: FACTORY, by_putting_back: WANTED, by_keeping: WANTED}.get(change, LATER_HELD)
    assert await held(bench) == expected
    assert state(hass, "number", "charge_window_1_power").state == f"{expected[1]}.0"


async def test_a_whole_schedule_that_is_refused_leaves_the_draft(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    await edit_all(hass)
    with pytest.raises(ServiceValidationError):
        await act(hass, entry, "apply_schedule", charge=[{**TONIGHT[0], "power": 50_000}])
    assert shown(hass) == AS_EDITED


# ---- after a pause


@pytest.fixture
def house_time(monkeypatch: pytest.MonkeyPatch) -> HouseTime:
    """A house whose time the test moves."""
    return HouseTime(monkeypatch, dt_util.utcnow())


async def wait(hass: HomeAssistant, house_time: HouseTime, seconds: float) -> None:
    """Let time pass, and whatever is due by then."""
    house_time.pass_by(seconds=seconds)
    async_fire_time_changed(hass, house_time.now)
    await hass.async_block_till_done()


async def test_after_a_pause_all_edits_are_applied_as_one_commit(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter, house_time: HouseTime
) -> None:
    entry = await add_inverter(bench.port, edits="after_pause")
    for platform, key, data in THREE_EDITS:
        await edit(hass, platform, key, **data)
        # Each edit begins the pause anew.
        await wait(hass, house_time, 15)
    assert await writes(bench) == 0
    assert draft(hass)["applies_at"] == house_time.now + timedelta(seconds=5)
    await wait(hass, house_time, 6)
    assert await held(bench) == EDITED
    assert await writes(bench) == 1
    assert entry.runtime_data.storage.commits_today == 1
    assert draft(hass)["state"] == "off"
    by = state(hass, "sensor", "schedule_status").attributes["by"]
    assert entity_id(hass, "number", "charge_window_1_power") in by


async def test_a_draft_that_is_refused_after_the_pause_is_told_and_waits_for_its_user(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter, house_time: HouseTime
) -> None:
    entry = await add_inverter(bench.port, edits="after_pause", edits_seconds=5)
    await edit(hass, "time", "discharge_window_1_start", time="21:00:00")
    await edit(hass, "time", "discharge_window_1_end", time="23:00:00")
    await wait(hass, house_time, 6)
    assert (draft(hass)["state"], draft(hass)["applies_at"]) == ("on", None)
    assert "overlap" in draft(hass)["why"]
    assert last_event(hass)["event_type"] == "draft_failed"
    assert draft(hass)["why"] == last_event(hass)["reason"]
    begun = record_events(hass, "chargehand_schedule", "type")
    await wait(hass, house_time, 600)
    await poll(hass, entry)
    assert begun == [], "it is not tried again by itself"
    await edit(hass, "time", "discharge_window_1_end", time="22:00:00")
    await wait(hass, house_time, 6)
    assert await held(bench, DISCHARGE[0]) == registers("21:00", "22:00", 5000, 10)
    assert draft(hass)["state"] == "off"


async def test_a_pause_that_a_restart_cuts_off_begins_anew(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter, house_time: HouseTime
) -> None:
    entry = await add_inverter(bench.port, edits="after_pause")
    await edit_all(hass)
    await hass.config_entries.async_unload(entry.entry_id)
    await wait(hass, house_time, 3600)
    assert await writes(bench) == 0
    await hass.config_entries.async_setup(entry.entry_id)
    await hass.async_block_till_done()
    await wait(hass, house_time, 15)
    assert await writes(bench) == 0
    await wait(hass, house_time, 6)
    assert await held(bench) == EDITED


async def test_a_draft_that_was_to_wait_for_the_button_waits_for_it_whatever_the_options_become(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, house_time: HouseTime
) -> None:
    await edit_all(hass)
    menu = await hass.config_entries.options.async_init(entry.entry_id)
    form = await hass.config_entries.options.async_configure(menu["flow_id"], {"next_step_id": "edits"})
    for wrong in (4, 301):
        with pytest.raises(InvalidData):
            await hass.config_entries.options.async_configure(
                form["flow_id"], {"edits": "after_pause", "edits_seconds": wrong}
            )
    done = await hass.config_entries.options.async_configure(
        form["flow_id"], {"edits": "after_pause", "edits_seconds": 10}
    )
    assert done["type"] is FlowResultType.CREATE_ENTRY
    await hass.async_block_till_done()
    assert entry.options["edits_seconds"] == 10
    await wait(hass, house_time, 60)
    assert await writes(bench) == 0
    await edit(hass, "number", "charge_window_1_power", value=2500)
    await wait(hass, house_time, 11)
    assert await held(bench) == registers("01:00", "05:00", 2500, 100)


async def test_a_pause_that_a_discard_cuts_off_applies_nothing(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter, house_time: HouseTime
) -> None:
    await add_inverter(bench.port, edits="after_pause")
    await edit_all(hass)
    await set_entity(hass, "button", "press", "discard_draft")
    await wait(hass, house_time, 60)
    assert await writes(bench) == 0
