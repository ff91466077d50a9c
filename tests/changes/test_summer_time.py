"""An inverter whose clock keeps UTC, in a house with summer time: a repair says what its windows become, and mends it when asked.

Summer time in Europe/London ends on 2026-10-25 at 01:00 UTC and begins on 2027-03-28 at 01:00 UTC (IANA time zone database).
"""

from collections.abc import AsyncIterator
from datetime import UTC, datetime
from typing import Any

import pytest
from homeassistant.core import HomeAssistant
from homeassistant.helpers import issue_registry as ir
from homeassistant.setup import async_setup_component
from pytest_homeassistant_custom_component.common import MockConfigEntry
from pytest_homeassistant_custom_component.typing import ClientSessionGenerator

from tests.bench.remote import Bench
from tests.bench.teasel import CLOCK
from tests.calls import act, begun_commits, hurry
from tests.conftest import QUICK, AddInverter
from tests.moved_time import HouseTime

SERIAL = "B3-AM-2611-0042"
NIGHT = {"start": "00:20", "end": "04:10", "current": 60.0, "stop_level": 95.0}
SUMMER = [23 * 60 + 20, 23 * 60 + 59, 120, 95, 0, 3 * 60 + 10, 120, 95]
"""The night's registers from 120 in summer: 23:20 to the end of the day, and 00:00 to 03:10, UTC, at 120 half amperes."""

WINTER = [20, 4 * 60 + 10, 120, 95]
AFTER = datetime(2026, 10, 25, 12, 0, tzinfo=UTC)


@pytest.fixture
async def time(hass: HomeAssistant, london: None, monkeypatch: pytest.MonkeyPatch) -> HouseTime:
    """An evening in summer."""
    return HouseTime(monkeypatch, datetime(2026, 10, 24, 19, 0, tzinfo=UTC))


@pytest.fixture
async def burdock(socket_enabled: None, time: HouseTime) -> AsyncIterator[Bench]:
    async with await Bench.start(**QUICK, inverter="burdock", clock=time.now.replace(tzinfo=None)) as bench:
        yield bench


@pytest.fixture
async def entry(burdock: Bench, add_inverter: AddInverter, hass: HomeAssistant) -> MockConfigEntry:
    added = await add_inverter(burdock.port, register_map="burdock_b3", unique_id=SERIAL)
    await act(hass, added, "apply_schedule", charge=[NIGHT])
    return added


async def poll(entry: MockConfigEntry) -> None:
    entry.runtime_data.rates.slow_next()
    await entry.runtime_data.async_refresh()


def issue(hass: HomeAssistant, entry: MockConfigEntry) -> ir.IssueEntry | None:
    return ir.async_get(hass).async_get_issue("chargehand", f"summer_time_{entry.entry_id}")


async def fix(
    hass: HomeAssistant, entry: MockConfigEntry, client: ClientSessionGenerator, choice: str
) -> dict[str, Any]:
    """Go through the repair as the user interface does."""
    assert await async_setup_component(hass, "repairs", {})
    http = await client()
    handler = {"handler": "chargehand", "issue_id": f"summer_time_{entry.entry_id}"}
    flow = await (await http.post("/api/repairs/issues/fix", json=handler)).json()
    assert flow["menu_options"] == ["stay", "move"]
    answer = await http.post(f"/api/repairs/issues/fix/{flow['flow_id']}", json={"next_step_id": choice})
    result: dict[str, Any] = await answer.json()
    return result


async def night(bench: Bench) -> list[int]:
    return await bench.registers("holding", 120, 8)


async def test_windows_that_summer_time_moves_are_told_and_not_written(
    hass: HomeAssistant, burdock: Bench, entry: MockConfigEntry, time: HouseTime
) -> None:
    assert await night(burdock) == SUMMER
    await poll(entry)
    assert issue(hass, entry) is None
    time.move_to(AFTER)
    await poll(entry)
    repair = issue(hass, entry)
    assert repair is not None
    assert repair.translation_placeholders is not None
    assert "00:20" in repair.translation_placeholders["changes"]
    assert "23:20" in repair.translation_placeholders["changes"]
    assert await night(burdock) == SUMMER
    (shown,) = (await act(hass, entry, "get_schedule"))["charge"]
    assert (shown["start"], shown["end"]) == ("23:20", "03:10"), "what the inverter will do, in the house's time"


async def test_the_repair_moves_them_to_the_times_that_were_set(
    hass: HomeAssistant, burdock: Bench, entry: MockConfigEntry, time: HouseTime, hass_client: ClientSessionGenerator
) -> None:
    time.move_to(AFTER)
    await poll(entry)
    done = await fix(hass, entry, hass_client, "move")
    assert done["type"] == "create_entry"
    assert done["description"] == "written"
    assert "charge 00:20–04:10" in done["description_placeholders"]["held"]
    assert (await night(burdock))[:4] == WINTER
    assert (await act(hass, entry, "get_schedule"))["charge"] == [NIGHT]
    assert issue(hass, entry) is None
    await poll(entry)
    assert issue(hass, entry) is None
    # In spring they are an hour late the other way.
    time.move_to(datetime(2027, 3, 28, 12, 0, tzinfo=UTC))
    await poll(entry)
    assert issue(hass, entry) is not None


async def test_the_repair_lets_them_stay(
    hass: HomeAssistant, burdock: Bench, entry: MockConfigEntry, time: HouseTime, hass_client: ClientSessionGenerator
) -> None:
    time.move_to(AFTER)
    await poll(entry)
    await fix(hass, entry, hass_client, "stay")
    await poll(entry)
    assert issue(hass, entry) is None
    assert await night(burdock) == SUMMER


async def test_a_repair_that_fails_leaves_it_to_be_repaired(
    hass: HomeAssistant, burdock: Bench, entry: MockConfigEntry, time: HouseTime, hass_client: ClientSessionGenerator
) -> None:
    time.move_to(AFTER)
    await poll(entry)
    hurry(entry)
    await burdock.fault("exception", code=4, only="write", count=None)
    assert (await fix(hass, entry, hass_client, "move"))["type"] == "abort"
    await burdock.clear_faults()
    await poll(entry)
    assert await night(burdock) == SUMMER
    assert issue(hass, entry) is not None
    assert (await fix(hass, entry, hass_client, "move"))["type"] == "create_entry"
    assert (await night(burdock))[:4] == WINTER


async def test_a_commit_across_the_change_is_one_by_the_time_at_which_it_began(
    hass: HomeAssistant, burdock: Bench, entry: MockConfigEntry, time: HouseTime
) -> None:
    inverter = entry.runtime_data.inverter
    count = inverter.writer.on_written

    def the_hour_passes(registers: int) -> None:
        time.move_to(AFTER)
        count(registers)

    inverter.writer.on_written = the_hour_passes
    receipt = await act(hass, entry, "apply_schedule", charge=[{**NIGHT, "start": "01:30"}])
    assert receipt["outcome"] == "confirmed"
    assert [(one["was"], one["now"]) for one in receipt["changes"]] == [("00:20", "01:30")]
    await poll(entry)
    assert issue(hass, entry) is not None, "and since then it acts an hour earlier"


async def test_it_is_told_after_a_restart_too_and_a_new_schedule_settles_it(
    hass: HomeAssistant, burdock: Bench, entry: MockConfigEntry, time: HouseTime
) -> None:
    await hass.config_entries.async_unload(entry.entry_id)
    time.move_to(AFTER)
    await hass.config_entries.async_setup(entry.entry_id)
    await hass.async_block_till_done()
    assert issue(hass, entry) is not None
    receipt = await act(hass, entry, "apply_schedule", charge=[NIGHT])
    assert receipt["outcome"] == "confirmed"
    assert issue(hass, entry) is None


async def test_a_commit_that_was_cut_off_before_the_change_and_settled_after_it_is_what_it_was_then(
    hass: HomeAssistant, burdock: Bench, entry: MockConfigEntry, time: HouseTime
) -> None:
    kept, write = begun_commits(entry)
    await act(hass, entry, "apply_schedule", charge=[{**NIGHT, "start": "01:00"}])
    await hass.config_entries.async_unload(entry.entry_id)
    await write(kept[0])
    time.move_to(AFTER)
    await hass.config_entries.async_setup(entry.entry_id)
    await hass.async_block_till_done()
    await poll(entry)
    assert entry.runtime_data.storage.unfinished is None
    repair = issue(hass, entry)
    assert repair is not None, "all of it is there, and acts an hour early since"
    assert repair.translation_placeholders is not None
    assert "01:00" in repair.translation_placeholders["changes"]
    await act(hass, entry, "restore_schedule", which="confirmed")
    assert (await act(hass, entry, "get_schedule"))["charge"] == [{**NIGHT, "start": "01:00"}]
    await act(hass, entry, "restore_schedule")


async def test_what_is_put_back_is_what_it_was_in_the_houses_time(
    hass: HomeAssistant, burdock: Bench, entry: MockConfigEntry, time: HouseTime
) -> None:
    await act(hass, entry, "apply_schedule", charge=[{**NIGHT, "start": "01:00"}])
    time.move_to(AFTER)
    await act(hass, entry, "restore_schedule")
    assert (await act(hass, entry, "get_schedule"))["charge"] == [NIGHT]
    assert (await night(burdock))[:4] == WINTER


async def test_a_house_that_moves_to_another_time_zone_is_served_in_the_new_one(
    hass: HomeAssistant, burdock: Bench, entry: MockConfigEntry, time: HouseTime
) -> None:
    """Athens is two hours ahead of London all year (IANA time zone database); nothing is set up again for it."""
    await act(hass, entry, "set_clock")
    await poll(entry)
    await hass.config.async_update(time_zone="Europe/Athens")
    await hass.async_block_till_done()
    (shown,) = (await act(hass, entry, "get_schedule"))["charge"]
    assert (shown["start"], shown["end"]) == ("02:20", "06:10"), "when the inverter will act, in the house's time"
    await poll(entry)
    assert entry.runtime_data.data.clock_offset == pytest.approx(0, abs=3), "a clock that keeps UTC is not wrong by it"
    assert issue(hass, entry) is not None
    assert await night(burdock) == SUMMER
    receipt = await act(hass, entry, "apply_schedule", charge=[NIGHT])
    assert [(one["was"], one["now"]) for one in receipt["changes"]] == [("02:20", "00:20"), ("06:10", "04:10")]
    # 00:20 in Athens in summer is 21:20 UTC.
    assert (await night(burdock))[:2] == [21 * 60 + 20, 23 * 60 + 59]
    assert issue(hass, entry) is None


async def test_a_clock_that_keeps_the_houses_time_is_set_to_that_of_the_new_time_zone(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter, time: HouseTime
) -> None:
    entry = await add_inverter(bench.port)
    await hass.config.async_update(time_zone="Europe/Athens")
    await hass.async_block_till_done()
    await bench.clock(local=datetime(2026, 10, 24, 20, 0, tzinfo=UTC).replace(tzinfo=None))
    answer = await act(hass, entry, "set_clock")
    assert answer["offset_before"] == pytest.approx(-7200, abs=3)
    assert answer["offset_after"] == pytest.approx(0, abs=3)
    assert (await bench.registers("holding", CLOCK[0], 4))[2:] == [24, 22]


async def test_a_clock_that_keeps_the_houses_time_moves_with_it(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter, time: HouseTime
) -> None:
    entry = await add_inverter(bench.port)
    await act(hass, entry, "apply_schedule", charge=[{"start": "00:20", "end": "04:10", "power": 2000}])
    time.move_to(AFTER)
    await poll(entry)
    assert issue(hass, entry) is None
    (shown,) = (await act(hass, entry, "get_schedule"))["charge"]
    assert (shown["start"], shown["end"]) == ("00:20", "04:10")
