"""The status of the schedule: what it is at a start, while a change is at work, and after it."""

import json
from pathlib import Path
from typing import Any

import pytest
from homeassistant.core import Event, EventStateChangedData, HomeAssistant, callback
from homeassistant.exceptions import HomeAssistantError
from homeassistant.helpers.event import async_track_state_change_event
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components import chargehand
from custom_components.chargehand.changes import ScheduleStatus
from tests.bench.remote import Bench
from tests.bench.teasel import CHARGE
from tests.calls import act, edit_and_apply, entity_id, hurry, state
from tests.changes.test_schedule_monitor import poll
from tests.teasel import TONIGHT, held, registers

NO_TIME = [77, 88, 99, 0]


def status(hass: HomeAssistant) -> str:
    return state(hass, "sensor", "schedule_status").state


@pytest.fixture
async def passed(hass: HomeAssistant, entry: MockConfigEntry) -> list[str]:
    """The states that the status passes through from now on."""
    seen: list[str] = []

    @callback
    def note(event: Event[EventStateChangedData]) -> None:
        new = event.data["new_state"]
        if new is not None and seen[-1:] != [new.state]:
            seen.append(new.state)

    async_track_state_change_event(hass, entity_id(hass, "sensor", "schedule_status"), note)
    return seen


async def restart(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    await hass.config_entries.async_reload(entry.entry_id)
    await hass.async_block_till_done()


async def test_a_schedule_that_nobody_has_set_was_never_confirmed(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    assert status(hass) == "never_confirmed"
    await poll(hass, entry)
    assert status(hass) == "never_confirmed"
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    assert status(hass) == "confirmed"
    await restart(hass, entry)
    assert status(hass) == "confirmed"


async def test_one_that_was_confirmed_and_cannot_be_read_since_the_start_is_unconfirmed(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    before = await held(bench)
    event = state(hass, "event", "schedule_event").state
    await bench.fault("exception", only="read", code=4, count=None, touches=CHARGE[0].start)
    await restart(hass, entry)
    assert status(hass) == "unconfirmed"
    await bench.clear_faults()
    assert await held(bench) == before
    await poll(hass, entry)
    assert status(hass) == "confirmed"
    assert state(hass, "event", "schedule_event").state == event, "nothing has happened to it"


async def test_while_a_change_is_at_work_the_status_says_so(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, passed: list[str]
) -> None:
    await bench.fault("write_shows_late", ms=700)
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    assert passed == ["changing", "confirmed"]
    await bench.fault("write_shows_late", ms=700)
    await edit_and_apply(hass, "number", "charge_window_1_power", value=1000)
    assert passed == ["changing", "confirmed", "changing", "confirmed"]
    assert "button.teasel_t5_apply_draft" in state(hass, "sensor", "schedule_status").attributes["by"]


async def test_a_change_that_is_refused_before_anything_is_written_leaves_the_status_alone(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, passed: list[str]
) -> None:
    with pytest.raises(HomeAssistantError):
        await act(hass, entry, "apply_schedule", charge=[{**TONIGHT[0], "power": 50_000}])
    await act(hass, entry, "apply_schedule", charge=[{"start": "22:40", "end": "02:20"}])
    assert passed == ["never_confirmed", "confirmed"], "the failure is shown, and what was there is confirmed unwritten"


async def test_a_change_that_does_not_take_ends_where_it_began(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, passed: list[str]
) -> None:
    hurry(entry)
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    await bench.fault("write_clamped", limit=1500, count=3)
    with pytest.raises(HomeAssistantError):
        await act(hass, entry, "apply_schedule", charge=[{**TONIGHT[0], "power": 3500}])
    assert passed == ["changing", "confirmed", "changing", "confirmed"]


async def test_one_whose_end_is_not_known_is_unconfirmed(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, passed: list[str]
) -> None:
    hurry(entry)
    await bench.fault("answer_lost", only="write")
    await bench.fault("no_answer", only="read", nth=3, count=None)
    with pytest.raises(HomeAssistantError):
        await act(hass, entry, "apply_schedule", charge=TONIGHT)
    assert passed == ["changing", "unconfirmed"]


async def test_who_and_what_are_said_in_words(hass: HomeAssistant, bench: Bench, entry: MockConfigEntry) -> None:
    def said() -> tuple[str, str | None]:
        attributes = state(hass, "sensor", "schedule_status").attributes
        return attributes["by"], attributes["details"]

    hurry(entry)
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    by, what = said()
    assert "(action apply_schedule)" in by
    assert what == "charge window 1 now 01:00–05:00 at 3000 W to 95 % (was 22:40–02:20 at 2000 W to 100 %)"
    await bench.set(CHARGE[0].start, registers("01:00", "05:00", 500, 95))
    await poll(hass, entry)
    assert said() == (
        "elsewhere",
        "charge window 1 now 01:00–05:00 at 500 W to 95 % (was 01:00–05:00 at 3000 W to 95 %)",
    )
    await act(hass, entry, "keep_schedule")
    assert said()[1] is None, "nothing was changed"
    await bench.fault("no_answer", only="read", nth=3, count=None)
    with pytest.raises(HomeAssistantError):
        await act(hass, entry, "apply_schedule", charge=TONIGHT)
    by, what = said()
    assert "(action apply_schedule)" in by
    assert what is not None
    assert "answer came from unit 1" in what


def test_no_two_states_of_the_schedule_look_the_same() -> None:
    icons: dict[str, Any] = json.loads((Path(chargehand.__file__).parent / "icons.json").read_text())
    shown = icons["entity"]["sensor"]["schedule_status"]["state"]
    assert shown.keys() == set(ScheduleStatus)
    assert len(set(shown.values())) == len(shown)


def test_no_state_of_our_own_has_the_name_of_one_of_the_platforms() -> None:
    texts: dict[str, Any] = json.loads((Path(chargehand.__file__).parent / "translations/en.json").read_text())
    states = {
        (platform, key): described["state"].keys()
        for platform, entities in texts["entity"].items()
        for key, described in entities.items()
        if "state" in described
    }
    assert len(states) >= 2
    assert {where: names for where, names in states.items() if names & {"unknown", "unavailable"}} == {}
