"""The logbook as the activity log of schedule and clock, read through the platform's own logbook."""

import asyncio
from datetime import timedelta
from typing import Any
from unittest.mock import AsyncMock, patch

import pytest
from homeassistant.core import Context, HomeAssistant
from homeassistant.exceptions import HomeAssistantError
from homeassistant.setup import async_setup_component
from homeassistant.util import dt as dt_util
from pytest_homeassistant_custom_component.common import MockConfigEntry, MockUser
from pytest_homeassistant_custom_component.components.recorder.common import async_wait_recording_done
from pytest_homeassistant_custom_component.typing import WebSocketGenerator

from custom_components.chargehand.core.registers import ValueRefused
from tests.bench.remote import Bench
from tests.bench.teasel import CHARGE
from tests.calls import act, begun_commits, entity_id, hurry, set_entity, state
from tests.changes.test_schedule_monitor import poll
from tests.conftest import AddInverter
from tests.teasel import far_from

TONIGHT = {"start": "01:00", "end": "05:00", "power": 2000, "stop_level": 90}
TOLD = "charge window 1 now 01:00–05:00 at 2000 W to 90 % (was 22:40–02:20 at 2000 W to 100 %)"


@pytest.fixture(autouse=True)
def _chargehand_can_be_loaded(recorder_mock: Any, enable_custom_integrations: None) -> None:
    """The logbook needs the recorder, which has to be there before Home Assistant."""


@pytest.fixture
async def activity_log(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    """The logbook is there, and commits do not take long to fail."""
    assert await async_setup_component(hass, "logbook", {})
    hurry(entry)


async def logged(hass: HomeAssistant, client: WebSocketGenerator, key: str = "schedule_event") -> list[str]:
    """What the logbook's page shows of the inverter in Chargehand's words, oldest first."""
    await async_wait_recording_done(hass)
    http = await client(hass)
    now = dt_util.utcnow()
    await http.send_json_auto_id(
        {
            "type": "logbook/get_events",
            "start_time": (now - timedelta(hours=1)).isoformat(),
            "end_time": (now + timedelta(hours=1)).isoformat(),
        }
    )
    async with asyncio.timeout(5):
        answer = await http.receive_json()
    assert answer["success"], answer
    place = "sensor" if key == "clock_offset" else "event"
    ours = [one for one in answer["result"] if one.get("domain") == "chargehand"]
    assert all(one["name"] == "Teasel T5" for one in ours)
    return [one["message"] for one in ours if one["entity_id"] == entity_id(hass, place, key)]


def without_seconds(message: str) -> str:
    """A message with the time that a commit took, which no test can know, as S."""
    before, _, after = message.partition(", confirmed in ")
    seconds, _, rest = after.partition(" s, ")
    assert 0 <= float(seconds) < 10
    return f"{before}, confirmed in S s, {rest}"


async def test_a_change_by_an_automation_is_told_with_what_was_and_who_asked(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, activity_log: None, hass_ws_client: WebSocketGenerator
) -> None:
    automation = {
        "alias": "Night charge",
        "id": "night",
        "triggers": {"trigger": "event", "event_type": "evening"},
        "actions": {
            "action": "chargehand.apply_schedule",
            "data": {"device_id": "{{ device_id('sensor.teasel_t5_battery_level') }}", "charge": [TONIGHT]},
        },
    }
    assert await async_setup_component(hass, "automation", {"automation": automation})
    hass.bus.async_fire("evening")
    await hass.async_block_till_done()
    await act(hass, entry, "apply_schedule", armed=False)
    await act(hass, entry, "apply_schedule", charge=[], armed=True)
    messages = [without_seconds(one) for one in await logged(hass, hass_ws_client)]
    assert messages == [
        f"has a new schedule: {TOLD}, confirmed in S s, asked by automation.night_charge (action apply_schedule)",
        "has a new schedule: windows now not armed (were armed), confirmed in S s, asked by unknown (action apply_schedule)",
        (
            "has a new schedule: windows now armed (were not armed), charge window 1 now unused "
            "(was 01:00–05:00 at 2000 W to 90 %), confirmed in S s, asked by unknown (action apply_schedule)"
        ),
    ]


async def test_another_hand_and_what_was_decided_about_it_are_told(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, activity_log: None, hass_ws_client: WebSocketGenerator
) -> None:
    await act(hass, entry, "apply_schedule", charge=[TONIGHT])
    await bench.set(CHARGE[0].power, [100])
    await poll(hass, entry)
    await bench.set(CHARGE[0].power, [2000])
    await poll(hass, entry)
    await bench.set(CHARGE[0].start, [140])
    await poll(hass, entry)
    await entry.runtime_data.commits.keep("repair")
    await poll(hass, entry)
    messages = await logged(hass, hass_ws_client)
    assert messages[1:] == [
        "was changed elsewhere: charge window 1 now 01:00–05:00 at 100 W to 90 % (was 01:00–05:00 at 2000 W to 90 %)",
        "has the confirmed schedule again: charge 01:00–05:00 2000 W to 90 %; discharge never; armed",
        "was changed elsewhere: charge window 1 now 01:40–05:00 at 2000 W to 90 % (was 01:00–05:00 at 2000 W to 90 %)",
        "keeps the schedule that was found on it: charge 01:40–05:00 2000 W to 90 %; discharge never; armed, asked by repair",
    ]


async def test_a_change_that_does_not_take_and_one_that_is_uncertain_until_it_is_settled_are_told(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, activity_log: None, hass_ws_client: WebSocketGenerator
) -> None:
    await bench.fault("write_ignored", count=None)
    with pytest.raises(HomeAssistantError):
        await act(hass, entry, "apply_schedule", charge=[TONIGHT])
    await bench.clear_faults()
    await bench.fault("exception", code=4, only="read", nth=3, count=None)
    with pytest.raises(HomeAssistantError) as failed:
        await act(hass, entry, "apply_schedule", charge=[TONIGHT])
    assert failed.value.translation_key == "schedule_uncertain"
    await bench.clear_faults()
    await poll(hass, entry)
    restored, uncertain, settled = await logged(hass, hass_ws_client)
    assert restored.startswith("kept its earlier schedule: the change did not take (")
    assert restored.endswith("), asked by unknown (action apply_schedule)")
    assert uncertain.startswith("may hold either schedule or a mixture: ")
    assert uncertain.endswith(", asked by unknown (action apply_schedule)")
    assert settled == "has the new schedule after all: charge 01:00–05:00 2000 W to 90 %; discharge never; armed"


async def test_a_change_that_was_cut_off_before_its_first_write_is_told_as_not_taken(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, activity_log: None, hass_ws_client: WebSocketGenerator
) -> None:
    kept, write = begun_commits(entry)
    await act(hass, entry, "apply_schedule", charge=[TONIGHT])
    await act(hass, entry, "restore_schedule")
    await write(kept[0])
    await poll(hass, entry)
    assert (await logged(hass, hass_ws_client))[-1] == (
        "has the earlier schedule again; the change did not take: charge 22:40–02:20 2000 W to 100 %; discharge never; armed"
    )


@pytest.mark.parametrize(
    ("platform", "service", "key", "data"),
    [("switch", "turn_off", "timed_charging", {}), ("button", "press", "apply_draft", {})],
)
async def test_a_change_through_an_entity_is_told_with_the_user_who_asked(
    hass: HomeAssistant,
    entry: MockConfigEntry,
    hass_admin_user: MockUser,
    platform: str,
    service: str,
    key: str,
    data: dict[str, str],
) -> None:
    await set_entity(hass, "time", "set_value", "charge_window_1_start", time="23:10:00")
    entity = entity_id(hass, platform, key)
    context = Context(user_id=hass_admin_user.id)
    await hass.services.async_call(platform, service, {"entity_id": entity, **data}, blocking=True, context=context)
    assert state(hass, "sensor", "schedule_status").attributes["by"] == f"{hass_admin_user.name} ({entity})"


async def test_the_clock_s_setting_is_told_with_how_far_it_was_off(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, activity_log: None, hass_ws_client: WebSocketGenerator
) -> None:
    house = dt_util.now().replace(tzinfo=None)
    await bench.clock(local=house + timedelta(seconds=90))
    await act(hass, entry, "set_clock")
    await bench.clock(local=dt_util.now().replace(tzinfo=None) - timedelta(seconds=90))
    await set_entity(hass, "button", "press", "set_clock")
    by_action, by_button = await logged(hass, hass_ws_client, "clock_offset")
    for message, way in ((by_action, "ahead"), (by_button, "behind")):
        start, _, rest = message.removeprefix("had its clock set: was ").partition(" s ")
        assert abs(int(start) - 90) <= 2
        assert rest.startswith(f"{way} and is now ")
        assert int(rest.removeprefix(f"{way} and is now ").split(" ")[0]) <= 2
    assert by_action.endswith(", asked by unknown (action set_clock)")
    assert by_button.endswith(f", asked by unknown ({entity_id(hass, 'button', 'set_clock')})")


async def test_a_clock_that_is_set_by_itself_is_told_too(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter, hass_ws_client: WebSocketGenerator
) -> None:
    # Far from every window's edge and from a change of summer time, whatever the time of day is.
    now = dt_util.now()
    await bench.set(CHARGE[0].start, far_from(now))
    await bench.clock(local=now.replace(tzinfo=None) + timedelta(seconds=90))
    entry = await add_inverter(bench.port, set_clock_seconds=30)
    assert await async_setup_component(hass, "logbook", {})
    await poll(hass, entry)
    assert entry.runtime_data.storage.clock_set_on is not None
    entry.runtime_data.storage.clock_set_on = None
    await bench.clock(local=dt_util.now().replace(tzinfo=None) - timedelta(seconds=90))
    await poll(hass, entry)
    assert (await logged(hass, hass_ws_client, "clock_offset"))[-1].endswith("asked by its options")


async def test_a_time_that_the_clock_cannot_hold_keeps_no_poll_from_coming(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter
) -> None:
    """A year beyond the register's, which no bench can show before its time: the clock's own part is a stand-in."""
    now = dt_util.now()
    await bench.set(CHARGE[0].start, far_from(now))
    entry = await add_inverter(bench.port, set_clock_seconds=30)
    coordinator = entry.runtime_data
    await bench.clock(local=dt_util.now().replace(tzinfo=None) - timedelta(seconds=90))
    with patch.object(coordinator.inverter, "set_clock", AsyncMock(side_effect=ValueRefused("too_large"))) as setting:
        await poll(hass, entry)
    assert setting.await_count == 1
    assert coordinator.last_update_success
    assert coordinator.data.clock_offset == pytest.approx(-90, abs=2)
