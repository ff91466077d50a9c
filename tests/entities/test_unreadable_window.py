"""One window whose registers hold no window: it alone is shown as that, all others work, and it is overwritten only on request."""

from datetime import datetime, timedelta

import pytest
from homeassistant.core import HomeAssistant
from homeassistant.util import dt as dt_util
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components.chargehand.core.schedule import Side
from tests.bench.remote import Bench
from tests.bench.teasel import CHARGE
from tests.calls import act, entity_id

SECOND = CHARGE[1].start
NONSENSE = [9999, 3000, 95, 2561]
"""No time at its start, none at its end; the order is start, power, level, end."""


async def poll(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    """Read everything now."""
    entry.runtime_data.rates.slow_next()
    await entry.runtime_data.async_refresh()
    await hass.async_block_till_done()


@pytest.fixture
async def unreadable(hass: HomeAssistant, bench: Bench, entry: MockConfigEntry) -> MockConfigEntry:
    """A Teasel of which charge window 1 is as it left the works, and 2 is nonsense."""
    await bench.set(SECOND, NONSENSE)
    await poll(hass, entry)
    return entry


async def second(bench: Bench) -> list[int]:
    return await bench.registers("holding", SECOND, 4)


async def test_the_others_show_and_it_is_told(hass: HomeAssistant, unreadable: MockConfigEntry) -> None:
    schedule = await act(hass, unreadable, "get_schedule")
    assert [(one["start"], one["end"]) for one in schedule["charge"]] == [("22:40", "02:20")]
    assert schedule["not_readable"] == ["charge_window_2"]
    start = hass.states.get(entity_id(hass, "time", "charge_window_1_start"))
    assert start is not None
    assert start.state == "22:40:00"
    for key in ("next_charge_start", "schedule_status"):
        found = hass.states.get(entity_id(hass, "sensor", key))
        assert found is not None
        assert found.state not in {"unknown", "unavailable"}


async def test_its_switch_is_unknown_and_says_why(
    hass: HomeAssistant, bench: Bench, unreadable: MockConfigEntry
) -> None:
    coordinator = unreadable.runtime_data
    window = coordinator.data.schedule.charge[1]
    assert (window.readable, window.used) == (False, False)
    await bench.set(CHARGE[0].start, NONSENSE)
    await poll(hass, unreadable)
    switch = hass.states.get(entity_id(hass, "switch", "charge_window_1_active"))
    assert switch is not None
    assert switch.state == "unknown"
    assert switch.attributes["readable"] is False


async def test_calendar_and_rehearsal_go_by_the_others(hass: HomeAssistant, unreadable: MockConfigEntry) -> None:
    begin = dt_util.start_of_local_day()
    answer = await hass.services.async_call(
        "calendar",
        "get_events",
        {
            "entity_id": entity_id(hass, "calendar", "schedule"),
            "start_date_time": begin.isoformat(),
            "end_date_time": (begin + timedelta(days=2)).isoformat(),
        },
        blocking=True,
        return_response=True,
    )
    assert answer is not None
    ((events,),) = [list(one.values()) for one in answer.values()]  # type: ignore[union-attr]
    starts = {datetime.fromisoformat(one["start"]).strftime("%H:%M") for one in events}
    assert starts == {"22:40"}


async def test_another_side_is_applied_and_it_stays(
    hass: HomeAssistant, bench: Bench, unreadable: MockConfigEntry
) -> None:
    discharge = [{"start": "17:00", "end": "18:00", "power": 1000, "stop_level": 40}]
    receipt = await act(hass, unreadable, "apply_schedule", discharge=discharge)
    assert receipt["outcome"] == "confirmed"
    assert await second(bench) == NONSENSE


async def test_its_own_side_overwrites_it(hass: HomeAssistant, bench: Bench, unreadable: MockConfigEntry) -> None:
    charge = [{"start": "01:00", "end": "04:00", "power": 2500, "stop_level": 90}]
    receipt = await act(hass, unreadable, "apply_schedule", charge=charge)
    assert receipt["outcome"] == "confirmed"
    start, _, _, end = await second(bench)
    assert (start, end) == (0, 0)
    assert "not_readable" not in await act(hass, unreadable, "get_schedule")


async def test_the_draft_of_another_window_leaves_it_alone_and_its_own_overwrites_it(
    hass: HomeAssistant, bench: Bench, unreadable: MockConfigEntry
) -> None:
    coordinator = unreadable.runtime_data
    held, points, shift = coordinator.data.schedule, coordinator.inverter.points, coordinator.inverter.shift()
    await coordinator.drafts.edit(points, held, (Side.CHARGE, 1), {"power": 1500.0}, "Ada", shift=shift)
    await act(hass, unreadable, "apply_draft")
    assert await second(bench) == NONSENSE
    held = coordinator.data.schedule
    await coordinator.drafts.edit(points, held, (Side.CHARGE, 2), {"start": 300}, "Ada", shift=shift)
    await coordinator.drafts.edit(points, held, (Side.CHARGE, 2), {"end": 360}, "Ada", shift=shift)
    await act(hass, unreadable, "apply_draft")
    assert await second(bench) == [500, 3000, 95, 600]


async def test_charging_is_stopped_and_it_stays(hass: HomeAssistant, bench: Bench, unreadable: MockConfigEntry) -> None:
    assert (await act(hass, unreadable, "stop_charging"))["outcome"] == "confirmed"
    assert await second(bench) == NONSENSE, "disarmed, and otherwise as it was"


async def test_a_switch_turned_off_overwrites_it(
    hass: HomeAssistant, bench: Bench, unreadable: MockConfigEntry
) -> None:
    coordinator = unreadable.runtime_data
    held, points, shift = coordinator.data.schedule, coordinator.inverter.points, coordinator.inverter.shift()
    await coordinator.drafts.edit(points, held, (Side.CHARGE, 2), {"active": False}, "Ada", shift=shift)
    await act(hass, unreadable, "apply_draft")
    assert await second(bench) == [0, 3000, 95, 0]
