"""The line in system health, and the repair issues for its faults."""

import asyncio

import pytest
from homeassistant.config_entries import ConfigEntryDisabler
from homeassistant.core import HomeAssistant
from homeassistant.helpers import issue_registry as ir
from homeassistant.setup import async_setup_component
from pytest_homeassistant_custom_component.common import MockConfigEntry, get_system_health_info

from tests.bench.remote import Bench
from tests.bench.teasel import SERIAL_NUMBER
from tests.calls import state
from tests.conftest import QUICK, AddInverter


def issue(hass: HomeAssistant, entry: MockConfigEntry, kind: str) -> ir.IssueEntry | None:
    return ir.async_get(hass).async_get_issue("chargehand", f"{kind}_{entry.entry_id}")


async def poll(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    await entry.runtime_data.async_refresh()
    await hass.async_block_till_done()


async def test_system_health_shows_each_inverters_line(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    assert await async_setup_component(hass, "system_health", {})
    await hass.async_block_till_done()
    info = await get_system_health_info(hass, "chargehand")
    assert info["inverters"] == 1
    assert info["running"] == 1
    assert info["Teasel T5"].startswith("tcp, round trip ")
    assert "of the line" in info["Teasel T5"]


async def test_system_health_shows_both_of_two_inverters_of_one_title(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, add_inverter: AddInverter
) -> None:
    async with await Bench.start(**QUICK) as other:
        await other.set(SERIAL_NUMBER, [0x5858] * 8, table="input")
        second = await add_inverter(other.port, unique_id="X" * 16)
        assert second.title == entry.title
        assert await async_setup_component(hass, "system_health", {})
        await hass.async_block_till_done()
        info = await get_system_health_info(hass, "chargehand")
        assert {"Teasel T5", "Teasel T5 (2)"} <= info.keys()
        await hass.config_entries.async_unload(second.entry_id)


@pytest.mark.timeout(300)  # chance decides how many collisions it takes
async def test_two_masters_on_one_bus_are_named_and_readings_keep_coming(
    hass: HomeAssistant, socket_enabled: None, add_inverter: AddInverter
) -> None:
    async with await Bench.start(baud=9600, turnaround_ms=20, gateway="transparent") as bench:
        entry = await add_inverter(bench.port, framing="rtu_over_tcp")
        await bench.logger(every_s=0.7, count=60)
        succeeded = 0
        for _ in range(40):
            await poll(hass, entry)
            succeeded += entry.runtime_data.last_update_success
            # Between polls the other master's traffic is heard; in a house they are seconds apart.
            await asyncio.sleep(0.8)
            if issue(hass, entry, "two_masters") is not None and succeeded > 5:
                break
        found = issue(hass, entry, "two_masters")
        assert found is not None
        assert succeeded > 5
        assert int(state(hass, "sensor", "line_errors").state) > 0
        await hass.config_entries.async_unload(entry.entry_id)


async def test_a_queueing_gateway_with_a_logger_is_no_two_masters(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry
) -> None:
    await bench.logger(every_s=0.05, count=60)
    for _ in range(10):
        await poll(hass, entry)
        assert entry.runtime_data.last_update_success
    assert issue(hass, entry, "two_masters") is None
    assert (await bench.logger_state())["answers"] > 3


async def taken_by_another(hass: HomeAssistant, bench: Bench, entry: MockConfigEntry) -> asyncio.StreamWriter:
    """Let another client hold the gateway until the issue is there, and return its connection."""
    await bench.gateway(restart=True)
    _, other = await asyncio.open_connection("127.0.0.1", bench.port)
    for _ in range(12):
        await poll(hass, entry)
        await asyncio.sleep(0.5)
        if issue(hass, entry, "gateway_taken") is not None:
            break
    assert issue(hass, entry, "gateway_taken") is not None
    return other


async def test_a_gateway_that_another_client_holds_is_named_and_forgotten_when_it_is_free(
    hass: HomeAssistant, socket_enabled: None, add_inverter: AddInverter
) -> None:
    async with await Bench.start(**QUICK, gateway="single") as bench:
        entry = await add_inverter(bench.port)
        other = await taken_by_another(hass, bench, entry)
        other.close()
        for _ in range(14):
            await asyncio.sleep(0.5)
            await poll(hass, entry)
            if entry.runtime_data.last_update_success:
                break
        assert issue(hass, entry, "gateway_taken") is None
        await hass.config_entries.async_unload(entry.entry_id)


async def test_what_only_polls_can_take_away_goes_with_an_entry_that_is_switched_off(
    hass: HomeAssistant, socket_enabled: None, add_inverter: AddInverter
) -> None:
    async with await Bench.start(**QUICK, gateway="single") as bench:
        entry = await add_inverter(bench.port)
        other = await taken_by_another(hass, bench, entry)
        await hass.config_entries.async_set_disabled_by(entry.entry_id, ConfigEntryDisabler.USER)
        assert issue(hass, entry, "gateway_taken") is None
        other.close()
