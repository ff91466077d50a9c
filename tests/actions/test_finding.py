"""Finding registers through a real Home Assistant over a real line: what is set on the inverter's own panel is found in its registers."""

import asyncio
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from homeassistant.core import Context, HomeAssistant
from homeassistant.exceptions import HomeAssistantError, ServiceValidationError, Unauthorized
from homeassistant.helpers.service import async_get_all_descriptions
from pytest_homeassistant_custom_component.common import MockConfigEntry, MockUser

from tests.bench.remote import Bench
from tests.bench.teasel import CHARGE, CLOCK, CONTROL_WORD
from tests.calls import act, device_id
from tests.conftest import QUICK, AddInverter

FIRST = CHARGE[0].start
SCHEDULE = {"table": "holding", "first": FIRST, "count": 38}
SCRATCH = 816
"""The first of some registers that mean nothing."""


FROM_ONE = """\
chargehand_map: 1
title: Teasel T5 as its manual counts
maker: Teasel
model: T5
source: invented for this test
line: {numbering: from_1}
readings:
  battery_level: {input: 445, unit: "%"}
"""


async def asked_of(bench: Bench, since: int, *tables: int) -> list[tuple[int, int]]:
    """First register and count of the reads that reached the inverter after `since`."""
    return [(one["first"], one["count"]) for one in await bench.journal(since) if one["function"] in (tables or (3, 4))]


async def quiet(hass: HomeAssistant, entry: MockConfigEntry, bench: Bench) -> int:
    """Stop the polls, and return the number of the last request until then."""
    await entry.runtime_data.async_shutdown()
    await hass.async_block_till_done()
    return len(await bench.journal())


async def test_registers_are_read_raw_and_decoded(hass: HomeAssistant, bench: Bench, entry: MockConfigEntry) -> None:
    answer = await act(hass, entry, "read_registers", table="holding", first=740, count=4)
    assert answer["registers"] == {"740": 2240, "741": 2000, "742": 100, "743": 220}
    assert (answer["table"], answer["first"], answer["count"]) == ("holding", 740, 4)
    assert answer["numbering"] == "from_0"
    assert answer["unreadable"] == answer["never_read"] == []
    assert answer["decoded"]["740"]["hhmm"] == "22:40"
    assert answer["decoded"]["740"]["u32_high_first"] == 2240 * 65536 + 2000
    assert answer["decoded"]["741"]["u16"] == answer["decoded"]["741"]["s16"] == 2000
    assert "u32_high_first" not in answer["decoded"]["743"], "the register after it was not read"
    inputs = await act(hass, entry, "read_registers", table="input", first=404, count=10)
    assert "".join(inputs["decoded"][str(number)]["text"] for number in range(406, 414)) == "T5-AM-2611-0042"
    bare = await act(hass, entry, "read_registers", table="holding", first=740, count=2, decode=False)
    assert "decoded" not in bare


async def test_a_start_changed_on_the_panel_is_named_with_its_layout(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    before = await act(hass, entry, "read_registers", **SCHEDULE)
    await bench.set(FIRST, [2305])
    answer = await act(hass, entry, "compare_registers", **SCHEDULE, snapshot=before)
    (change,) = answer["changes"]
    assert (change["register"], change["was"], change["now"]) == (FIRST, 2240, 2305)
    # 2240 is 1000 1100 0000 in binary, 2305 is 1001 0000 0001.
    assert change["flipped_bits"] == [0, 6, 7, 8]
    assert change["could_mean"][0] == {"register": FIRST, "layout": "hhmm", "was": "22:40", "now": "23:05"}
    assert {"register": FIRST, "type": "u16", "was": 2240, "now": 2305} in change["could_mean"]
    assert answer["not_compared"] == []
    again = await act(hass, entry, "compare_registers", **SCHEDULE, snapshot=answer)
    assert again["changes"] == [], "the answer of a comparison is a snapshot too"


async def test_a_minute_in_a_register_of_its_own_is_named_with_its_hour(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    await bench.set(SCRATCH, [23, 0])
    asked = {"table": "holding", "first": SCRATCH, "count": 4}
    before = await act(hass, entry, "read_registers", **asked)
    assert before["decoded"][str(SCRATCH)]["hour_minute"] == "23:00"
    await bench.set(SCRATCH + 1, [40])
    answer = await act(hass, entry, "compare_registers", **asked, snapshot=before)
    (change,) = answer["changes"]
    assert (change["register"], change["was"], change["now"]) == (SCRATCH + 1, 0, 40)
    assert change["flipped_bits"] == [3, 5]
    assert change["could_mean"][0] == {"register": SCRATCH, "layout": "hour_minute", "was": "23:00", "now": "23:40"}
    assert {"register": SCRATCH + 1, "type": "u16", "was": 0, "now": 40} in change["could_mean"]
    long = {"register": SCRATCH, "type": "u32", "word_order": "high_first", "was": 23 << 16, "now": (23 << 16) + 40}
    assert long in change["could_mean"]


@pytest.mark.parametrize(
    ("layout", "before", "after"),
    [("packed", 0x1700, 0x1728), ("hhmm", 2300, 2340), ("bcd", 0x2300, 0x2340), ("minutes", 1380, 1420)],
)
async def test_every_layout_of_one_register_is_named(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, layout: str, before: int, after: int
) -> None:
    await bench.set(SCRATCH, [before])
    asked = {"table": "holding", "first": SCRATCH - 4, "count": 10}
    snapshot = await act(hass, entry, "read_registers", **asked, decode=False)
    await bench.set(SCRATCH, [after])
    answer = await act(hass, entry, "compare_registers", **asked, snapshot=snapshot)
    (change,) = answer["changes"]
    assert change["could_mean"][0] == {"register": SCRATCH, "layout": layout, "was": "23:00", "now": "23:40"}


async def test_a_flag_that_flipped_is_named_by_its_bit(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    asked = {"table": "holding", "first": CONTROL_WORD, "count": 4}
    snapshot = await act(hass, entry, "read_registers", **asked)
    await bench.set(CONTROL_WORD, [0b101])
    (change,) = (await act(hass, entry, "compare_registers", **asked, snapshot=snapshot))["changes"]
    assert change["flipped_bits"] == [2]
    assert {"register": CONTROL_WORD, "bit": 2, "was": 0, "now": 1} in change["could_mean"]


async def test_the_inverters_running_clock_comes_after_what_was_set(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    asked = {"table": "holding", "first": CLOCK[0] - 5, "count": 45}
    snapshot = await act(hass, entry, "read_registers", **asked)
    await bench.set(FIRST, [2305])
    await bench.advance(61)
    changes = (await act(hass, entry, "compare_registers", **asked, snapshot=snapshot))["changes"]
    assert changes[0]["register"] == FIRST
    assert len(changes) > 1
    assert {change["could_mean"][0].get("layout") for change in changes[1:]} == {"six_registers"}


async def test_registers_that_are_not_there_are_found_skipped_and_listed(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    # The bench has holding registers 700 to 829 and no others.
    answer = await act(hass, entry, "read_registers", table="holding", first=698, count=134, decode=False)
    assert list(answer["registers"]) == [str(number) for number in range(700, 830)]
    assert [(one["first"], one["last"]) for one in answer["unreadable"]] == [(698, 699), (830, 831)]
    assert all("02" in one["why"] for one in answer["unreadable"])
    assert answer["registers"]["741"] == 2000


async def test_a_refusal_that_passes_loses_no_register(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    since = await quiet(hass, entry, bench)
    await bench.fault("exception", code=4, only="read")
    answer = await act(hass, entry, "read_registers", **SCHEDULE)
    assert len(answer["registers"]) == 38
    assert answer["unreadable"] == []
    assert await asked_of(bench, since) == [(FIRST, 38), (FIRST, 19), (FIRST + 19, 19)]


async def test_what_the_map_forbids_is_never_read_and_reads_are_no_longer_than_it_says(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    since = await quiet(hass, entry, bench)
    # The bundled map: longest_read 100, input 640 to 659 never read.
    answer = await act(hass, entry, "read_registers", table="input", first=400, count=203, decode=False)
    assert (400, 100) in await asked_of(bench, since, 4)
    assert max(count for _, count in await asked_of(bench, since)) == 100
    assert answer["never_read"] == []
    since = len(await bench.journal())
    answer = await act(hass, entry, "read_registers", table="input", first=638, count=23, decode=False)
    assert answer["never_read"] == [{"first": 640, "last": 659}]
    touched = {at for first, count in await asked_of(bench, since) for at in range(first, first + count)}
    assert touched == {638, 639, 660}
    assert [(one["first"], one["last"]) for one in answer["unreadable"]] == [(638, 639), (660, 660)]


async def test_addresses_count_as_the_users_map_does(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter, tmp_path: Path
) -> None:
    hass.config.config_dir = str(tmp_path)
    (tmp_path / "chargehand").mkdir()
    (tmp_path / "chargehand" / "from_one.yaml").write_text(FROM_ONE)
    entry = await add_inverter(bench.port, register_map="from_one")
    asked = {"table": "holding", "first": SCRATCH + 1, "count": 2}
    await bench.set(SCRATCH, [23, 0])
    snapshot = await act(hass, entry, "read_registers", **asked)
    assert snapshot["numbering"] == "from_1"
    assert snapshot["registers"] == {"817": 23, "818": 0}, "817 counted from 1 is 816 on the wire"
    assert snapshot["decoded"]["817"]["hour_minute"] == "23:00"
    await bench.set(SCRATCH + 1, [40])
    (change,) = (await act(hass, entry, "compare_registers", **asked, snapshot=snapshot))["changes"]
    assert change["register"] == 818
    assert change["could_mean"][0] == {"register": 817, "layout": "hour_minute", "was": "23:00", "now": "23:40"}
    with pytest.raises(ServiceValidationError) as refused:
        await act(hass, entry, "read_registers", table="holding", first=0, count=2)
    assert refused.value.translation_key == "no_such_registers"


async def test_too_much_and_what_is_not_there_is_refused_and_nothing_is_sent(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    since = await quiet(hass, entry, bench)
    for key, first, count in (("too_many_registers", 0, 2001), ("no_such_registers", 65535, 2)):
        with pytest.raises(ServiceValidationError) as refused:
            await act(hass, entry, "read_registers", table="holding", first=first, count=count)
        assert refused.value.translation_key == key
        assert str(first + count - 1 if key == "no_such_registers" else count) in str(refused.value)
    assert await bench.journal(since) == []


@pytest.mark.parametrize(
    ("key", "spoilt"),
    [
        ("snapshot_other_registers", {"table": "input"}),
        ("snapshot_other_registers", {"first": FIRST - 1}),
        ("snapshot_other_registers", {"count": 37}),
        ("snapshot_no_answer", {"registers": [1, 2]}),
        ("snapshot_no_answer", {"registers": {str(FIRST): "much"}}),
        ("snapshot_other_inverter", {"device_id": "another"}),
    ],
)
async def test_a_snapshot_that_does_not_fit_is_told_and_nothing_is_read(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, key: str, spoilt: dict[str, Any]
) -> None:
    snapshot = await act(hass, entry, "read_registers", **SCHEDULE, decode=False)
    since = await quiet(hass, entry, bench)
    with pytest.raises(ServiceValidationError) as refused:
        await act(hass, entry, "compare_registers", **SCHEDULE, snapshot={**snapshot, **spoilt})
    assert refused.value.translation_key == key
    assert "{" not in str(refused.value), "every placeholder of the message is filled in"
    assert len(str(refused.value)) > 40
    assert await bench.journal(since) == []


async def test_garbage_for_a_snapshot_is_told(hass: HomeAssistant, bench: Bench, entry: MockConfigEntry) -> None:
    for garbage in ("everything", 7, [], {}):
        with pytest.raises(ServiceValidationError, match="not an answer of read_registers"):
            await act(hass, entry, "compare_registers", **SCHEDULE, snapshot=garbage)


async def test_nothing_is_ever_written(hass: HomeAssistant, bench: Bench, entry: MockConfigEntry) -> None:
    asked = {"table": "holding", "first": 699, "count": 60}
    snapshot = await act(hass, entry, "read_registers", **asked)
    await bench.set(FIRST, [2305])
    await act(hass, entry, "compare_registers", **asked, snapshot=snapshot)
    await act(hass, entry, "read_registers", table="input", first=300, count=110)
    journal = await bench.journal()
    assert len(journal) > 10
    assert {one["function"] for one in journal} == {3, 4}


async def test_a_read_only_entry_may_be_searched(hass: HomeAssistant, bench: Bench, add_inverter: AddInverter) -> None:
    entry = await add_inverter(bench.port, allow_control=False)
    assert (await act(hass, entry, "read_registers", **SCHEDULE))["registers"][str(FIRST)] == 2240


async def test_only_administrators_may(hass: HomeAssistant, bench: Bench, entry: MockConfigEntry) -> None:
    snapshot = await act(hass, entry, "read_registers", **SCHEDULE)
    since = await quiet(hass, entry, bench)
    tenant = MockUser(name="Tenant").add_to_hass(hass)
    owner = MockUser(name="Owner", is_owner=True).add_to_hass(hass)
    assert not tenant.is_admin
    data = {"device_id": device_id(hass, entry), **SCHEDULE}
    for action, more in (("read_registers", {}), ("compare_registers", {"snapshot": snapshot})):

        async def call(user: MockUser, action: str = action, more: dict[str, Any] = more) -> Any:
            return await hass.services.async_call(
                "chargehand",
                action,
                {**data, **more},
                blocking=True,
                return_response=True,
                context=Context(user_id=user.id),
            )

        with pytest.raises(Unauthorized):
            await call(tenant)
        assert await bench.journal(since) == [], "nothing was sent for somebody who may not"
        assert (await call(owner))["registers"][str(FIRST)] == 2240
        since = len(await bench.journal())


async def test_a_search_leaves_nine_tenths_of_the_line_to_others(
    hass: HomeAssistant, socket_enabled: None, add_inverter: AddInverter
) -> None:
    async with await Bench.start(**{**QUICK, "turnaround_ms": 30}) as bench:
        entry = await add_inverter(bench.port)
        since = await quiet(hass, entry, bench)
        await asyncio.gather(
            act(hass, entry, "read_registers", table="holding", first=700, count=100, decode=False),
            act(hass, entry, "read_registers", table="input", first=400, count=200, decode=False),
        )
        await act(hass, entry, "read_registers", table="holding", first=734, count=1, decode=False)
        requests = await bench.journal(since)
        assert len(requests) == 4
        # A rest of nine times a request that takes 30 ms at least: a lower bound, which no slow machine breaks.
        gaps = [later["at"] - earlier["at"] for earlier, later in pairwise(requests)]
        assert min(gaps) >= 10 * 0.03, gaps


async def test_polls_go_on_during_a_search(
    hass: HomeAssistant, socket_enabled: None, add_inverter: AddInverter
) -> None:
    async with await Bench.start(**{**QUICK, "turnaround_ms": 15}) as bench:
        entry = await add_inverter(bench.port)
        since = len(await bench.journal())
        search = asyncio.create_task(
            act(hass, entry, "read_registers", table="holding", first=828, count=4, decode=False)
        )
        polls = 0
        while not search.done():
            await entry.runtime_data.async_refresh()
            assert entry.runtime_data.last_update_success
            polls += 1
            await asyncio.sleep(0.05)
        assert [(one["first"], one["last"]) for one in (await search)["unreadable"]] == [(830, 831)]
        assert polls > 3
        assert len(await bench.journal(since)) > polls


async def test_a_gateway_that_is_down_is_told(hass: HomeAssistant, bench: Bench, entry: MockConfigEntry) -> None:
    await quiet(hass, entry, bench)
    await bench.gateway(down=True)
    with pytest.raises(HomeAssistantError) as failed:
        await act(hass, entry, "read_registers", **SCHEDULE)
    assert failed.value.translation_key == "line_down"


@pytest.mark.parametrize(("count", "asked"), [(30, 1), (300, 2)])
async def test_an_inverter_that_is_silent_is_told_and_not_taken_for_missing_registers(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, count: int, asked: int
) -> None:
    await quiet(hass, entry, bench)
    await bench.fault("exception", code=11, only="read", count=None)
    with pytest.raises(HomeAssistantError) as failed:
        await act(hass, entry, "read_registers", table="input", first=400, count=count)
    assert failed.value.translation_key == "line_down"
    assert "did not answer" in str(failed.value)
    assert (await bench.stats())["faults_met"] == asked


async def test_a_stretch_that_is_met_with_silence_is_listed(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    await quiet(hass, entry, bench)
    await bench.fault("no_answer", touches=830, count=None)
    answer = await act(hass, entry, "read_registers", table="holding", first=720, count=120, decode=False)
    assert list(answer["registers"]) == [str(number) for number in range(720, 820)]
    ((first, last, why),) = [tuple(one.values()) for one in answer["unreadable"]]
    assert (first, last) == (820, 839)
    assert "no answer" in why


async def test_one_stretch_without_an_answer_does_not_lose_the_others(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    await quiet(hass, entry, bench)
    await bench.fault("exception", code=11, touches=550)
    answer = await act(hass, entry, "read_registers", table="input", first=400, count=200, decode=False)
    assert list(answer["registers"]) == [str(number) for number in range(400, 500)]
    assert answer["unreadable"] == [{"first": 500, "last": 599, "why": "exception 0B: gateway target did not answer"}]


async def test_what_was_read_only_once_is_not_compared_and_that_is_said(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    asked = {"table": "holding", "first": FIRST - 1, "count": 4}
    snapshot = await act(hass, entry, "read_registers", **asked)
    del snapshot["registers"][str(FIRST - 1)]
    await bench.set(FIRST - 1, [7])
    answer = await act(hass, entry, "compare_registers", **asked, snapshot=snapshot)
    assert answer["changes"] == []
    assert answer["not_compared"] == [{"first": FIRST - 1, "last": FIRST - 1}]


async def test_the_developer_tools_can_ask_for_every_field(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    described = (await async_get_all_descriptions(hass))["chargehand"]
    stretch = {"device_id", "table", "first", "count"}
    assert described["read_registers"]["fields"].keys() == {*stretch, "decode"}
    assert described["compare_registers"]["fields"].keys() == {*stretch, "snapshot"}
    for action in ("read_registers", "compare_registers"):
        assert described[action]["response"] == {"optional": False}
        assert all("selector" in field for field in described[action]["fields"].values())
