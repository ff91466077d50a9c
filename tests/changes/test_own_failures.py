"""A change of one's own that failed is reported as that, whatever it left on the inverter; never as another hand's."""

from typing import Any

import pytest
from homeassistant.core import HomeAssistant
from homeassistant.exceptions import HomeAssistantError
from pytest_homeassistant_custom_component.common import MockConfigEntry

from tests.bench.remote import Bench
from tests.bench.teasel import CHARGE, CONTROL_WORD, DISCHARGE
from tests.calls import act, begun_commits, hurry, record_events, set_entity, state
from tests.changes.test_own_maps import armed_by_mode, mode, own_map
from tests.changes.test_schedule_monitor import issue, last_event, poll
from tests.teasel import EVENING, EVENING_HELD, FACTORY, LATER, TONIGHT, UNUSED, WANTED, held, registers

__all__ = ["armed_by_mode", "own_map"]

CLAMPED = registers("01:00", "05:00", 2500, 95)
"""TONIGHT as an inverter holds it that gives no more than 2500 W."""


@pytest.fixture
def events(hass: HomeAssistant) -> list[str]:
    """What happens to the schedule, by its type."""
    return record_events(hass, "chargehand_schedule", "type")


@pytest.fixture
async def clamped(hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, events: list[str]) -> MockConfigEntry:
    """A confirmed schedule, then a change of which the inverter made something else, and a gateway that was lost before that was seen."""
    hurry(entry)
    await act(hass, entry, "apply_schedule", charge=LATER)
    await bench.fault("write_clamped", limit=2500, count=None)
    await bench.fault("no_answer", only="read", nth=3, count=None)
    with pytest.raises(HomeAssistantError) as failed:
        await act(hass, entry, "apply_schedule", charge=TONIGHT)
    assert failed.value.translation_key == "schedule_uncertain"
    await bench.clear_faults()
    assert await held(bench) == CLAMPED
    events.clear()
    return entry


async def restart(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    await hass.config_entries.async_reload(entry.entry_id)
    await hass.async_block_till_done()
    hurry(entry)
    await poll(hass, entry)


def status(hass: HomeAssistant) -> str:
    return state(hass, "sensor", "schedule_status").state


async def test_what_an_inverter_made_of_a_change_before_the_line_was_lost_is_unconfirmed_and_told(
    hass: HomeAssistant, bench: Bench, clamped: MockConfigEntry, events: list[str]
) -> None:
    for _ in range(2):
        await poll(hass, clamped)
        assert status(hass) == "unconfirmed"
    assert state(hass, "number", "charge_window_1_power").state == "2500.0", "what it holds is shown"
    doubt = issue(hass, clamped, "schedule_uncertain")
    assert doubt is not None
    assert doubt.translation_placeholders is not None
    assert "01:00–05:00 2500 W to 95 %" in doubt.translation_placeholders["reason"]
    assert issue(hass, clamped, "changed_elsewhere") is None
    assert events == []
    assert await held(bench) == CLAMPED, "nothing is written that nobody has asked for"


async def test_it_stays_so_over_a_restart(hass: HomeAssistant, clamped: MockConfigEntry, events: list[str]) -> None:
    await restart(hass, clamped)
    assert status(hass) == "unconfirmed"
    assert issue(hass, clamped, "schedule_uncertain") is not None
    assert "changed_elsewhere" not in events


async def test_the_next_change_begins_from_what_is_there(
    hass: HomeAssistant, bench: Bench, clamped: MockConfigEntry, events: list[str]
) -> None:
    await poll(hass, clamped)
    receipt = await act(hass, clamped, "apply_schedule", charge=TONIGHT)
    assert receipt["outcome"] == "confirmed"
    assert {change["was"] for change in receipt["changes"]} == {2500.0}
    assert await held(bench) == WANTED
    assert (status(hass), issue(hass, clamped, "schedule_uncertain")) == ("confirmed", None)
    assert events == ["confirmed"]


async def test_another_failure_on_top_of_it_makes_it_nobody_elses(
    hass: HomeAssistant, bench: Bench, clamped: MockConfigEntry, events: list[str]
) -> None:
    await bench.fault("exception", code=3, only="write", count=None)
    with pytest.raises(HomeAssistantError) as failed:
        await act(hass, clamped, "apply_schedule", charge=LATER)
    assert failed.value.translation_key == "schedule_restored"
    await bench.clear_faults()
    await poll(hass, clamped)
    assert status(hass) == "unconfirmed"
    await restart(hass, clamped)
    assert status(hass) == "unconfirmed"
    assert "changed_elsewhere" not in events
    await bench.set(CHARGE[0].start, registers("01:00", "05:00", 1234, 95))
    await poll(hass, clamped)
    assert status(hass) == "changed_elsewhere", "now it is"


async def test_it_can_be_kept_as_it_is(hass: HomeAssistant, clamped: MockConfigEntry) -> None:
    await poll(hass, clamped)
    await act(hass, clamped, "keep_schedule")
    await poll(hass, clamped)
    assert (status(hass), issue(hass, clamped, "schedule_uncertain")) == ("confirmed", None)


async def test_a_change_that_took_unproven_and_another_hand_elsewhere_are_told_apart(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, events: list[str]
) -> None:
    hurry(entry)
    await act(hass, entry, "apply_schedule", charge=LATER)
    await bench.fault("no_answer", only="read", nth=3, count=None)
    with pytest.raises(HomeAssistantError):
        await act(hass, entry, "apply_schedule", charge=TONIGHT)
    await bench.clear_faults()
    assert await held(bench) == WANTED
    await bench.set(DISCHARGE[1].start, EVENING_HELD)
    await poll(hass, entry)
    assert status(hass) == "changed_elsewhere"
    event = last_event(hass)
    assert event["event_type"] == "changed_elsewhere"
    assert {change["what"].removesuffix("_start").removesuffix("_end") for change in event["changes"]} <= {
        "discharge_window_2",
        "discharge_window_2_power",
        "discharge_window_2_stop_level",
    }


@pytest.mark.parametrize(
    ("left", "wanted"),
    [
        ({CHARGE[0].start: [2247]}, "changed_elsewhere"),
        ({CHARGE[0].start: registers("01:11", "04:44", 1650, 77), CHARGE[3].start: WANTED}, "changed_elsewhere"),
        ({CHARGE[0].start: [*WANTED[:1], 1500, *WANTED[2:]]}, "unconfirmed"),
        ({CHARGE[0].start: [*WANTED[:1], 1500, *WANTED[2:]], CHARGE[3].start: WANTED}, "unconfirmed"),
        ({CONTROL_WORD: [0], CHARGE[0].power: [1500]}, "unconfirmed"),
    ],
    ids=["nothing arrived", "another hand alone", "altered", "altered and another hand", "disarmed and altered"],
)
async def test_after_a_crash_it_is_anothers_only_where_nothing_of_ours_has_arrived(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, left: dict[int, list[int]], wanted: str
) -> None:
    kept, journal_write = begun_commits(entry)
    await act(hass, entry, "apply_schedule", charge=TONIGHT, discharge=EVENING)
    await hass.config_entries.async_unload(entry.entry_id)
    await bench.set(CHARGE[0].start, [*FACTORY, *UNUSED * 3])
    await bench.set(DISCHARGE[0].start, UNUSED * 2)
    for first, values in left.items():
        await bench.set(first, values)
    await journal_write(kept[0])
    await hass.config_entries.async_setup(entry.entry_id)
    await hass.async_block_till_done()
    await poll(hass, entry)
    assert status(hass) == wanted


async def test_a_mode_that_arms_and_was_set_unproven_is_no_other_hands(
    hass: HomeAssistant, bench: Bench, armed_by_mode: MockConfigEntry, events: list[str]
) -> None:
    entry = armed_by_mode
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    await bench.fault("no_answer", only="read", nth=2, count=None)
    with pytest.raises(HomeAssistantError):
        await set_entity(hass, "select", "select_option", "running_mode", option="feed_grid")
    assert status(hass) == "unconfirmed"
    await bench.clear_faults()
    assert await mode(bench) == 2
    events.clear()
    await poll(hass, entry)
    assert status(hass) == "confirmed"
    assert "changed_elsewhere" not in events


async def test_a_mode_that_arms_and_did_not_take_leaves_the_schedule_confirmed(
    hass: HomeAssistant, bench: Bench, armed_by_mode: MockConfigEntry, events: list[Any]
) -> None:
    entry = armed_by_mode
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    await bench.fault("write_ignored", count=None)
    await bench.fault("no_answer", only="read", nth=2, count=None)
    with pytest.raises(HomeAssistantError):
        await set_entity(hass, "select", "select_option", "running_mode", option="feed_grid")
    await bench.clear_faults()
    events.clear()
    await poll(hass, entry)
    assert (await mode(bench), status(hass)) == (1, "confirmed")
    assert "changed_elsewhere" not in events
