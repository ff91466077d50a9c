"""The draft by actions: whole sides laid out, shown everywhere, and nothing written until it is applied."""

from datetime import timedelta
from typing import Any

import pytest
from homeassistant.core import Context, HomeAssistant
from homeassistant.exceptions import HomeAssistantError, ServiceValidationError
from homeassistant.util import dt as dt_util
from pytest_homeassistant_custom_component.common import MockConfigEntry, MockUser, async_fire_time_changed

from tests.bench.remote import Bench
from tests.bench.teasel import CHARGE, DISCHARGE
from tests.calls import act, device_id, hurry, state
from tests.changes.test_drafts import AS_HELD, draft, edit, shown, writes
from tests.conftest import QUICK, AddInverter
from tests.moved_time import HouseTime
from tests.teasel import EVENING, EVENING_HELD, FACTORY, LATER, LATER_HELD, TONIGHT, UNUSED, WANTED, held

AS_TONIGHT = ["on", "01:00:00", "05:00:00", "3000.0", "95.0"]
FACTORY_WINDOW = {"start": "22:40", "end": "02:20", "power": 2000.0, "stop_level": 100.0}


def windows(answer: dict[str, Any]) -> tuple[list[Any], list[Any]]:
    return answer["charge"], answer["discharge"]


async def test_windows_laid_out_are_shown_by_the_entities_and_nothing_is_written(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    context = Context(user_id=MockUser(id="night", name="Miller", is_owner=True).add_to_hass(hass).id)
    answer = await hass.services.async_call(
        "chargehand",
        "draft_schedule",
        {"device_id": device_id(hass, entry), "charge": TONIGHT, "discharge": EVENING},
        blocking=True,
        return_response=True,
        context=context,
    )
    assert answer == {
        "draft": True,
        "charge": TONIGHT,
        "discharge": EVENING,
        "changes": "charge window 1 now 01:00–05:00 at 3000 W to 95 % (was 22:40–02:20 at 2000 W to 100 %), "
        "discharge window 1 now 17:00–19:00 at 4000 W to 30 % (was unused)",
        "reasons": [],
        "adjusted": [],
        "applies_at": None,
    }
    assert await writes(bench) == 0
    assert shown(hass) == AS_TONIGHT
    assert (draft(hass)["state"], draft(hass)["by"]) == ("on", "Miller (action draft_schedule)")
    receipt = await act(hass, entry, "apply_draft")
    assert receipt["outcome"] == "confirmed"
    assert {"what": "charge_window_1_start", "was": "22:40", "now": "01:00"} in receipt["changes"]
    assert receipt["in_words"] == [
        "charge window 1 now 01:00–05:00 at 3000 W to 95 % (was 22:40–02:20 at 2000 W to 100 %)",
        "discharge window 1 now 17:00–19:00 at 4000 W to 30 % (was unused)",
    ]
    assert (await held(bench), await held(bench, DISCHARGE[0])) == (WANTED, EVENING_HELD)
    assert await writes(bench) > 0
    assert draft(hass)["state"] == "off"
    by = state(hass, "sensor", "schedule_status").attributes["by"]
    assert by.endswith("(action apply_draft)")
    again = await act(hass, entry, "apply_schedule", charge=TONIGHT, discharge=EVENING)
    assert (again["outcome"], again["in_words"]) == ("unchanged", [])


async def test_a_side_that_is_left_out_stays_as_drafted_else_as_held(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    assert windows(await act(hass, entry, "draft_schedule", discharge=EVENING)) == ([FACTORY_WINDOW], EVENING)
    assert shown(hass) == AS_HELD
    assert windows(await act(hass, entry, "draft_schedule", charge=TONIGHT)) == (TONIGHT, EVENING)
    assert windows(await act(hass, entry, "draft_schedule", discharge=[])) == (TONIGHT, [])
    assert windows(await act(hass, entry, "draft_schedule")) == (TONIGHT, []), (
        "asked for nothing, it says what there is"
    )
    await act(hass, entry, "apply_draft")
    assert (await held(bench), await held(bench, DISCHARGE[0])) == (WANTED, UNUSED)


async def test_a_window_edited_by_its_entity_is_part_of_the_same_draft(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    await edit(hass, "number", "charge_window_1_power", value=1500)
    answer = await act(hass, entry, "draft_schedule", discharge=EVENING)
    assert answer["charge"] == [{**FACTORY_WINDOW, "power": 1500.0}]
    await act(hass, entry, "draft_schedule", charge=TONIGHT)
    await edit(hass, "number", "charge_window_1_power", value=2500)
    assert (await act(hass, entry, "draft_schedule"))["charge"] == [{**TONIGHT[0], "power": 2500.0}]


async def test_windows_that_cannot_stand_beside_each_other_are_drafted_with_the_reason_and_refused_when_applied(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    overlapping = [{**EVENING[0], "start": "02:00", "end": "03:00"}]
    answer = await act(hass, entry, "draft_schedule", discharge=overlapping)
    assert answer["discharge"] == overlapping
    (reason,) = answer["reasons"]
    assert (reason["key"], reason["side"], reason["number"]) == ("overlap", "discharge", 1)
    assert reason["text"] == "charge window 1 (22:40–02:20) and discharge window 1 (02:00–03:00) overlap"
    with pytest.raises(ServiceValidationError, match="overlap"):
        await act(hass, entry, "apply_draft")
    assert draft(hass)["state"] == "on"
    assert await writes(bench) == 0
    answer = await act(hass, entry, "draft_schedule", charge=TONIGHT, discharge=[{**overlapping[0], "end": "04:00"}])
    (reason,) = answer["reasons"]
    assert (reason["side"], reason["number"]) == ("charge", 1), "both are new: the first is named"
    assert (await act(hass, entry, "draft_schedule", discharge=EVENING))["reasons"] == []


async def test_what_a_window_alone_cannot_be_is_refused_with_every_reason_and_the_draft_stays(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    await act(hass, entry, "draft_schedule", charge=LATER)
    with pytest.raises(ServiceValidationError) as refused:
        await act(
            hass,
            entry,
            "draft_schedule",
            charge=[{**TONIGHT[0], "power": 50_000}, {"start": "05:00", "end": "05:00"}],
            discharge=None,
        )
    assert refused.value.translation_key == "schedule_rejected"
    for part in ("charge window 1 power 50000 W", "charge window 2 starts and ends at 05:00", "discharge is empty"):
        assert part in str(refused.value)
    assert (await act(hass, entry, "draft_schedule"))["charge"] == LATER
    assert await writes(bench) == 0


async def test_a_limit_left_out_is_the_inverters_as_apply_schedule_has_it(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    bare = [{"start": "03:00", "end": "04:00"}]
    assert (await act(hass, entry, "draft_schedule", charge=bare))["charge"] == [
        {"start": "03:00", "end": "04:00", "power": 2000.0, "stop_level": 100.0}
    ]
    with pytest.raises(ServiceValidationError, match="discharge window 1 power is missing"):
        await act(hass, entry, "draft_schedule", discharge=bare)


async def test_a_draft_of_what_is_held_ends_the_draft(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    await act(hass, entry, "draft_schedule", charge=TONIGHT)
    answer = await act(hass, entry, "draft_schedule", charge=[FACTORY_WINDOW], discharge=[])
    assert (answer["draft"], answer["changes"], windows(answer)) == (False, None, ([FACTORY_WINDOW], []))
    assert draft(hass)["state"] == "off"
    with pytest.raises(ServiceValidationError) as none:
        await act(hass, entry, "apply_draft")
    assert none.value.translation_key == "no_draft"


async def test_a_draft_is_discarded_and_says_what_it_would_have_changed(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    await act(hass, entry, "draft_schedule", charge=TONIGHT)
    answer = await act(hass, entry, "discard_draft")
    assert answer["discarded"] is True
    assert answer["changes"].startswith("charge window 1 now 01:00–05:00")
    assert shown(hass) == AS_HELD
    assert await act(hass, entry, "discard_draft") == {"discarded": False, "changes": None}
    assert await writes(bench) == 0


async def test_watts_become_what_the_inverter_takes_and_that_is_said(
    hass: HomeAssistant, socket_enabled: None, add_inverter: AddInverter
) -> None:
    """The Burdock's charge windows take half amperes (its map)."""
    async with await Bench.start(**QUICK, inverter="burdock") as bench:
        entry = await add_inverter(bench.port, register_map="burdock_b3", unique_id="B3-AM-2611-0042")
        volts = entry.runtime_data.data.values["battery_voltage"]
        answer = await act(
            hass, entry, "draft_schedule", charge=[{"start": "01:00", "end": "05:00", "power": 1000, "stop_level": 90}]
        )
        (window,) = answer["charge"]
        assert abs(window["current"] - 1000 / volts) <= 0.25, "to the nearest half ampere"
        assert answer["adjusted"][0] | {"applied": ""} == {
            "what": "charge_window_1_current",
            "requested": "1000 W",
            "applied": "",
            "why": "watts_to_amperes",
        }
        assert await writes(bench) == 0


async def test_it_is_refused_without_permission_and_while_the_schedule_is_not_known(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter
) -> None:
    entry = await add_inverter(bench.port, allow_control=False)
    with pytest.raises(ServiceValidationError) as barred:
        await act(hass, entry, "draft_schedule", charge=TONIGHT)
    assert barred.value.translation_key == "control_not_allowed"
    assert entry.runtime_data.drafts.kept is None
    await bench.fault("exception", only="read", code=4, count=None, touches=CHARGE[0].start)
    hass.config_entries.async_update_entry(entry, options={"allow_control": True})
    await hass.config_entries.async_reload(entry.entry_id)
    await hass.async_block_till_done()
    with pytest.raises(ServiceValidationError) as unread:
        await act(hass, entry, "draft_schedule", charge=TONIGHT)
    assert unread.value.translation_key == "schedule_not_read"
    assert entry.runtime_data.drafts.kept is None


async def test_after_a_pause_it_is_applied_by_itself_and_each_layout_begins_the_pause_anew(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter, monkeypatch: pytest.MonkeyPatch
) -> None:
    house_time = HouseTime(monkeypatch, dt_util.utcnow())
    entry = await add_inverter(bench.port, edits="after_pause", edits_seconds=20)

    async def wait(seconds: float) -> None:
        house_time.pass_by(seconds=seconds)
        async_fire_time_changed(hass, house_time.now)
        await hass.async_block_till_done()

    await act(hass, entry, "draft_schedule", charge=TONIGHT)
    await wait(15)
    answer = await act(hass, entry, "draft_schedule", charge=LATER)
    assert answer["applies_at"] == (house_time.now + timedelta(seconds=20)).isoformat()
    await wait(15)
    assert await writes(bench) == 0
    await wait(6)
    assert await held(bench) == LATER_HELD
    assert state(hass, "sensor", "schedule_status").attributes["by"].endswith("(action draft_schedule)")
    assert draft(hass)["state"] == "off"


async def test_a_draft_that_does_not_take_stays_and_the_action_says_why(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    hurry(entry)
    await act(hass, entry, "draft_schedule", charge=TONIGHT)
    await bench.fault("write_ignored", count=None)
    with pytest.raises(HomeAssistantError) as failed:
        await act(hass, entry, "apply_draft")
    assert failed.value.translation_key == "schedule_restored"
    assert draft(hass)["why"] == str(failed.value)
    assert await held(bench) == FACTORY
