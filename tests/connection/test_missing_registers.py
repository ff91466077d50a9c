"""An inverter without some of the registers between those of its map, in a real Home Assistant: all readings come, and the user is told."""

import pytest
from homeassistant.core import HomeAssistant
from homeassistant.data_entry_flow import FlowResultType
from homeassistant.helpers import issue_registry as ir
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components.chargehand.core.inverter.split_read import Found
from custom_components.chargehand.core.registers import Span, Table
from custom_components.chargehand.diagnostics import async_get_config_entry_diagnostics
from custom_components.chargehand.messages import GATEWAY_TAKEN, raise_issue
from tests.bench.remote import Bench
from tests.bench.teasel import CHARGE
from tests.calls import act, state
from tests.conftest import QUICK, AddInverter
from tests.teasel import TONIGHT, WANTED, held
from tests.test_config_flow import submit

HOLES = "input:433-437,input:470-499,holding:757-762"
"""Between the Teasel's registers: none of them is in its map."""

ITEMS = [
    "- {table: input, from: 432, to: 439}",
    "- {table: holding, from: 756, to: 763}",
]
"""What the map lacks. Registers 470 to 499 are more than a read spans to spare another, so nobody reads across them."""


async def poll(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    entry.runtime_data.rates.slow_next()
    await entry.runtime_data.async_refresh()
    await hass.async_block_till_done()


def issue(hass: HomeAssistant, entry: MockConfigEntry, kind: str = "registers_refused") -> ir.IssueEntry | None:
    return ir.async_get(hass).async_get_issue("chargehand", f"{kind}_{entry.entry_id}")


async def refused(bench: Bench, since: int) -> list[tuple[int, int]]:
    return [(one["first"], one["count"]) for one in await bench.journal(since) if one["answer"].startswith("exception")]


async def test_everything_around_holes_is_there_at_once_and_the_log_has_the_lines_for_the_map(
    hass: HomeAssistant, socket_enabled: None, add_inverter: AddInverter, caplog: pytest.LogCaptureFixture
) -> None:
    async with await Bench.start(**QUICK, missing=HOLES) as bench:
        entry = await add_inverter(bench.port)
        for platform, key in (("sensor", "battery_level"), ("sensor", "grid_power"), ("time", "charge_window_1_start")):
            assert state(hass, platform, key).state not in {"unavailable", "unknown"}
        since = len(await bench.journal())
        for _ in range(3):
            await poll(hass, entry)
        assert await refused(bench, since) == [], "a hole is asked for once"
        warned = [record.getMessage() for record in caplog.records if "no_read" in record.getMessage()]
        assert len(warned) == 1, "it is told once"
        assert warned[0].endswith("line:\n  no_read:\n" + "\n".join(f"    {item}" for item in ITEMS))
        diagnostics = await async_get_config_entry_diagnostics(hass, entry)
        assert diagnostics["line"]["missing_registers"] == {"no_read": ITEMS, "refused": [], "longest_read": None}
        assert issue(hass, entry) is None, "nothing is missing that the user could miss"


async def test_changes_the_clock_and_searches_work_around_holes(
    hass: HomeAssistant, socket_enabled: None, add_inverter: AddInverter
) -> None:
    async with await Bench.start(**QUICK, missing=HOLES) as bench:
        entry = await add_inverter(bench.port)
        receipt = await act(hass, entry, "apply_schedule", charge=TONIGHT, discharge=[])
        assert receipt["outcome"] == "confirmed"
        assert await held(bench, CHARGE[0]) == WANTED
        await act(hass, entry, "set_clock")
        found = await act(hass, entry, "read_registers", table="input", first=428, count=15, decode=False)
        assert [(one["first"], one["last"]) for one in found["unreadable"]] == [(433, 437)]
        assert found["registers"].keys() == {str(at) for at in (*range(428, 433), *range(438, 443))}


async def test_a_point_that_is_refused_is_named_under_repairs(
    hass: HomeAssistant, socket_enabled: None, add_inverter: AddInverter
) -> None:
    async with await Bench.start(**QUICK, missing="input:541") as bench:
        entry = await add_inverter(bench.port)
        raise_issue(hass, entry.entry_id, GATEWAY_TAKEN, gateway="127.0.0.1")
        await poll(hass, entry)
        assert issue(hass, entry, "gateway_taken") is None, "an inverter that refuses something is there"
        found = issue(hass, entry)
        assert found is not None
        assert found.translation_placeholders == {"inverter": "Teasel T5", "points": "link_voltage (input 541)"}
        assert state(hass, "sensor", "battery_level").state != "unavailable"
        diagnostics = await async_get_config_entry_diagnostics(hass, entry)
        assert diagnostics["line"]["missing_registers"]["refused"] == ["link_voltage (input 541)"]
        await hass.config_entries.async_unload(entry.entry_id)
        assert issue(hass, entry) is None


async def test_each_thing_is_told_once_and_the_repair_goes_when_a_point_is_answered(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, caplog: pytest.LogCaptureFixture
) -> None:
    holes = entry.runtime_data.inverter.reader.reads.holes
    level = Span(table=Table.INPUT, first=444, last=444)
    for found in (
        Found(holes=(Span(table=Table.INPUT, first=432, last=439),)),
        Found(points=(level,)),
        Found(longest=40),
    ):
        holes.learn(found, 2)
        await poll(hass, entry)
        assert (issue(hass, entry) is not None) == (level in holes.points)
    told = [record.getMessage() for record in caplog.records if record.name.endswith("missing_registers")]
    assert len(told) == 3, told
    assert all(
        word in line
        for word, line in zip(("no_read", "battery_level (input 444)", "longest_read: 40"), told, strict=True)
    )
    # It is answered when it is asked for again.
    await entry.runtime_data.inverter.reader.reads.read_groups([((Table.INPUT, 444),)])
    await poll(hass, entry)
    assert issue(hass, entry) is None
    assert state(hass, "sensor", "battery_level").state != "unavailable"


async def test_the_form_finds_an_inverter_with_holes_and_names_a_point_that_is_refused(
    hass: HomeAssistant, socket_enabled: None, london: None
) -> None:
    async with await Bench.start(**QUICK, missing=HOLES) as bench:
        result = await submit(hass, bench.port)
        assert (result["type"], result["step_id"]) == (FlowResultType.FORM, "confirm")
    async with await Bench.start(**QUICK, missing="input:541") as bench:
        result = await submit(hass, bench.port)
        assert result["errors"] == {"base": "other_inverter"}
        detail = (result["description_placeholders"] or {})["detail"]
        assert "input 541" in detail
        assert "link_voltage" in detail
        assert "battery_level" not in detail
