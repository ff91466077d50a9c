"""Triggers at moments of the cheap hours, in a house whose time is moved."""

from collections.abc import AsyncIterator
from typing import Any

import pytest
from homeassistant.core import HomeAssistant
from homeassistant.helpers import issue_registry as ir
from homeassistant.setup import async_setup_component
from homeassistant.util import dt as dt_util

from tests.actions.test_plan_charge import TARIFF
from tests.blueprints.conftest import MoveIn
from tests.blueprints.house import MovedHouse, london
from tests.calls import device_id

CHEAP = TARIFF | {"bands": [{"start": "01:00", "end": "05:00", "buy": 0.11}]}


@pytest.fixture
async def off_after(hass: HomeAssistant) -> AsyncIterator[None]:
    yield
    await hass.services.async_call("automation", "turn_off", {"entity_id": "all"}, blocking=True)


async def watch(house: MovedHouse, lead: int = 30, **options: Any) -> list[dict[str, Any]]:
    """An automation on the three triggers; return the list that takes what it was triggered by, and when."""
    seen: list[dict[str, Any]] = []
    house.hass.bus.async_listen("seen", lambda event: seen.append({"at": dt_util.now(), **event.data}))
    target = {"device_id": device_id(house.hass, house.entry)}
    automation = {
        "alias": "Seen",
        "mode": "parallel",
        "triggers": [
            {"trigger": f"chargehand.cheap_hours_{name}", "id": name, "target": target, "options": options | more}
            for name, more in (("approach", {"lead": lead}), ("started", {}), ("ended", {}))
        ],
        "actions": {
            "event": "seen",
            "event_data_template": {"id": "{{ trigger.id }}", "hours": "{{ trigger.begins }}/{{ trigger.ends }}"},
        },
    }
    assert await async_setup_component(house.hass, "automation", {"automation": automation})
    await house.hass.async_block_till_done()
    state = house.hass.states.get("automation.seen")
    assert state is not None
    assert state.state == "on"
    await house.settle()
    return seen


async def pass_by(house: MovedHouse, *moments: str) -> None:
    """Be in the house at these moments."""
    for moment in moments:
        await house.go(moment)


def moments(seen: list[dict[str, Any]]) -> list[tuple[str, str]]:
    return [(one["id"], f"{dt_util.as_local(one['at']):%d %H:%M}") for one in seen]


@pytest.mark.usefixtures("off_after")
async def test_each_night_has_one_of_each_in_the_tariffs_hours(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 20:00", tariff=CHEAP)
    seen = await watch(house)
    for day in (11, 12):
        for hour in ("00:29:50", "00:30:10", "00:59:50", "01:00:10", "03:00", "04:55", "05:00:10", "12:00"):
            await house.go(f"2026-01-{day} {hour}")
    assert moments(seen) == [
        (name, f"{day} {hour}")
        for day in (11, 12)
        for name, hour in (("approach", "00:30"), ("started", "01:00"), ("ended", "05:00"))
    ]
    assert {one["hours"] for one in seen[:3]} == {"2026-01-11 01:00:00+00:00/2026-01-11 05:00:00+00:00"}


@pytest.mark.usefixtures("off_after")
async def test_given_hours_count_and_what_they_leave_out_is_the_tariffs(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 20:00", tariff=CHEAP)
    seen = await watch(house, lead=60, between={"start": "23:30", "end": None})
    await pass_by(house, "2026-01-10 22:30:10", "2026-01-10 23:30:10", "2026-01-11 05:00:10")
    assert moments(seen) == [("approach", "10 22:30"), ("started", "10 23:30"), ("ended", "11 05:00")]


@pytest.mark.usefixtures("off_after")
async def test_an_automation_that_is_switched_on_within_the_hours_catches_up_at_once_and_once(move_in: MoveIn) -> None:
    house = await move_in("2026-01-11 01:30")
    seen = await watch(house, between={"start": "01:00", "end": "05:00"})
    assert moments(seen) == [("approach", "11 01:30")]
    await pass_by(house, "2026-01-11 03:00", "2026-01-11 04:00", "2026-01-11 05:00:10")
    assert moments(seen)[1:] == [("ended", "11 05:00")]


@pytest.mark.usefixtures("off_after")
async def test_too_little_of_the_hours_is_left_to_catch_up(move_in: MoveIn) -> None:
    house = await move_in("2026-01-11 04:52")
    seen = await watch(house, between={"start": "01:00", "end": "05:00"})
    await house.go("2026-01-11 05:10")
    assert seen == []


@pytest.mark.usefixtures("off_after")
async def test_an_inverter_that_is_not_there_in_time_is_charged_through_when_it_is(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 23:00", tariff=CHEAP)
    seen = await watch(house)
    assert await house.hass.config_entries.async_unload(house.entry.entry_id)
    await pass_by(house, "2026-01-11 00:31", "2026-01-11 01:01", "2026-01-11 02:00")
    assert seen == []
    assert await house.hass.config_entries.async_setup(house.entry.entry_id)
    await house.settle()
    assert moments(seen) == [("approach", "11 02:00")]
    assert await house.hass.config_entries.async_reload(house.entry.entry_id)
    await pass_by(house, "2026-01-11 04:30", "2026-01-11 05:00:10")
    assert moments(seen)[1:] == [("ended", "11 05:00")]


@pytest.mark.usefixtures("off_after")
async def test_an_inverter_that_comes_back_at_the_very_end_is_not_charged_through(move_in: MoveIn) -> None:
    house = await move_in("2026-01-11 00:20", tariff=CHEAP)
    seen = await watch(house)
    assert await house.hass.config_entries.async_unload(house.entry.entry_id)
    await pass_by(house, "2026-01-11 00:31", "2026-01-11 04:55")
    assert await house.hass.config_entries.async_setup(house.entry.entry_id)
    await house.settle()
    assert seen == []
    await pass_by(house, "2026-01-11 05:00:10", "2026-01-12 00:30:10")
    assert moments(seen) == [("ended", "11 05:00"), ("approach", "12 00:30")]


@pytest.mark.usefixtures("off_after")
@pytest.mark.parametrize(
    ("night", "start", "approach", "started"),
    [
        # British Summer Time begins on 2026-03-29 and ends on 2026-10-25, at 01:00 GMT (gov.uk/when-do-the-clocks-change, from memory).
        ("2026-03-28 22:00", "01:45", "2026-03-29 00:30+00:00", "2026-03-29 01:00+00:00"),
        ("2026-03-28 22:00", "02:15", "2026-03-29 00:45+00:00", "2026-03-29 01:15+00:00"),
        ("2026-10-24 22:00", "01:30", "2026-10-25 00:00+00:00", "2026-10-25 00:30+00:00"),
        ("2026-10-24 22:00", "00:20", "2026-10-24 22:50+00:00", "2026-10-24 23:20+00:00"),
    ],
    ids=["no such minute", "after the change", "twice that minute", "before the change"],
)
async def test_nights_in_which_clocks_are_moved(
    move_in: MoveIn, night: str, start: str, approach: str, started: str
) -> None:
    house = await move_in(night)
    seen = await watch(house, between={"start": start, "end": "05:00"})
    for moment in (approach, started):
        at = dt_util.parse_datetime(moment)
        assert at is not None
        await house.go(dt_util.utc_from_timestamp(at.timestamp() - 5))
        await house.go(dt_util.utc_from_timestamp(at.timestamp() + 5))
    assert [one["id"] for one in seen] == ["approach", "started"]
    for one, moment in zip(seen, (approach, started), strict=True):
        at = dt_util.parse_datetime(moment)
        assert at is not None
        assert 0 <= one["at"].timestamp() - at.timestamp() < 6
    end = london(f"{night[:8]}{int(night[8:10]) + 1} 05:00:10")
    await house.go(end)
    assert [one["id"] for one in seen] == ["approach", "started", "ended"]


@pytest.mark.usefixtures("off_after")
async def test_without_hours_and_tariff_nothing_happens_until_there_is_a_tariff(move_in: MoveIn) -> None:
    house = await move_in("2026-01-10 20:00")
    seen = await watch(house)
    issue = f"no_cheap_hours_{house.entry.entry_id}"
    assert ir.async_get(house.hass).async_get_issue("chargehand", issue) is not None
    await pass_by(house, "2026-01-11 00:31", "2026-01-11 06:00")
    assert seen == []
    house.hass.config_entries.async_update_entry(house.entry, options={**house.entry.options, "tariff": CHEAP})
    await house.hass.async_block_till_done()
    await house.settle()
    assert ir.async_get(house.hass).async_get_issue("chargehand", issue) is None
    await pass_by(house, "2026-01-11 12:00", "2026-01-12 00:30:10")
    assert moments(seen) == [("approach", "12 00:30")]
