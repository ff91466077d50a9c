"""The data logger served by an entry: who it is, what it writes, and when its port is open."""

import asyncio
from collections.abc import Awaitable, Callable
from contextlib import AbstractAsyncContextManager
from typing import Any

import pytest
from homeassistant.config_entries import ConfigEntryState
from homeassistant.const import EVENT_HOMEASSISTANT_STOP
from homeassistant.core import HomeAssistant
from homeassistant.helpers import issue_registry as ir
from pytest_homeassistant_custom_component.common import MockConfigEntry, async_capture_events

from custom_components.chargehand.data_logger import data_logger
from custom_components.chargehand.diagnostics import async_get_config_entry_diagnostics
from tests.bench.remote import Bench
from tests.bench.teasel import CHARGE, RATED_POWER, RESERVE_LEVEL
from tests.calls import act, find_entity, state
from tests.conftest import AddInverter
from tests.core.logger_port.port_rig import Client, client
from tests.teasel import TONIGHT, held
from tests.waiting import until

from .conftest import Settled

type Add = Callable[..., Awaitable[MockConfigEntry]]
type Connect = Callable[[], AbstractAsyncContextManager[Client]]


def issue(hass: HomeAssistant, entry: MockConfigEntry, kind: str) -> ir.IssueEntry | None:
    return ir.async_get(hass).async_get_issue("chargehand", f"{kind}_{entry.entry_id}")


async def is_open(port: int) -> bool:
    try:
        async with client(port):
            return True
    except ConnectionError:
        return False


async def test_a_data_logger_is_served_and_its_entities_show_it(
    hass: HomeAssistant, bench: Bench, add_served: Add, logger: Connect
) -> None:
    entry = await add_served()
    assert state(hass, "binary_sensor", "data_logger").state == "off"
    async with logger() as connected:
        await until(lambda: state(hass, "binary_sensor", "data_logger").state == "on")
        assert await connected.read("holding", RATED_POWER) == (5000,)
        assert await connected.read("input", 420, 60) == tuple(await bench.registers("input", 420, 60))
        await entry.runtime_data.async_refresh()
    shown = state(hass, "sensor", "data_logger_requests")
    assert (shown.state, shown.attributes["unit_of_measurement"]) == ("2", "requests/min")
    told = (await async_get_config_entry_diagnostics(hass, entry))["data_logger"]
    assert (told["passed_on"], told["from_memory"], told["requests_per_minute"]) == (2, 0, 2)
    diagnostics = await async_get_config_entry_diagnostics(hass, entry)
    assert diagnostics["entry"]["options"]["data_logger"]["hosts"] == "**REDACTED**"


async def test_without_the_option_there_is_nothing(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    assert find_entity(hass, "binary_sensor", "data_logger") is None
    assert find_entity(hass, "sensor", "data_logger_requests") is None
    assert (await async_get_config_entry_diagnostics(hass, entry))["data_logger"] is None


async def test_a_write_to_the_schedule_is_told_at_once_with_whose_it_is_and_what_it_was(
    hass: HomeAssistant, bench: Bench, add_served: Add, logger: Connect
) -> None:
    entry = await add_served()
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    assert state(hass, "sensor", "schedule_status").state == "confirmed"
    told = async_capture_events(hass, "chargehand_schedule")
    async with logger() as connected:
        assert (await connected.write(CHARGE[0].power, 1234))[0] == 16
    await until(lambda: len(told) == 2)
    wrote, changed = (event.data for event in told)
    assert wrote["type"] == "data_logger_wrote"
    assert (wrote["registers"], wrote["values"], wrote["was"]) == ([CHARGE[0].power], [1234], [3000])
    assert wrote["message"] == f"was written by the data logger: register {CHARGE[0].power} now 1234 (was 3000)"
    assert changed["type"] == "changed_elsewhere"
    assert changed["message"].startswith("was changed by the data logger: charge window 1 now 01:00–05:00 at 1234 W")
    await until(lambda: state(hass, "sensor", "schedule_status").state == "changed_elsewhere")
    assert state(hass, "sensor", "schedule_status").attributes["by"] == "data logger"
    await until(lambda: state(hass, "number", "charge_window_1_power").state == "1234.0")
    assert issue(hass, entry, "changed_elsewhere") is not None
    assert state(hass, "event", "schedule_event").attributes["event_type"] == "changed_elsewhere"


async def test_a_logger_that_writes_the_schedule_again_and_again_puts_off_no_poll(
    hass: HomeAssistant, bench: Bench, add_served: Add, logger: Connect
) -> None:
    entry = await add_served()
    due = entry.runtime_data._unsub_refresh
    assert due is not None
    async with logger() as connected:
        for power in (1001, 1002, 1003):
            await connected.write(CHARGE[0].power, power)
            await until(lambda shown=f"{power}.0": state(hass, "number", "charge_window_1_power").state == shown)
    assert entry.runtime_data._unsub_refresh is due


async def test_a_later_change_at_the_panel_is_not_the_data_loggers(
    hass: HomeAssistant, bench: Bench, add_served: Add, logger: Connect
) -> None:
    entry = await add_served()
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    async with logger() as connected:
        await connected.write(CHARGE[0].power, 3000)
        await until(lambda: entry.runtime_data.monitor.hand is None)
    assert state(hass, "sensor", "schedule_status").state == "confirmed", "it wrote what was there"
    await bench.set(CHARGE[0].power, [2500])
    entry.runtime_data.rates.slow_next()
    await entry.runtime_data.async_refresh()
    assert state(hass, "sensor", "schedule_status").attributes["by"] == "elsewhere"


async def test_a_write_before_anything_was_confirmed_makes_no_later_change_the_data_loggers(
    hass: HomeAssistant, bench: Bench, add_served: Add, logger: Connect
) -> None:
    entry = await add_served()
    async with logger() as connected:
        await connected.write(CHARGE[0].power, 1234)
        await until(lambda: state(hass, "number", "charge_window_1_power").state == "1234.0")
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    await bench.set(CHARGE[0].power, [2500])
    entry.runtime_data.rates.slow_next()
    await entry.runtime_data.async_refresh()
    assert state(hass, "sensor", "schedule_status").attributes["by"] == "elsewhere"


async def test_a_write_elsewhere_is_told_and_changes_nothing_of_the_schedules_status(
    hass: HomeAssistant, bench: Bench, add_served: Add, logger: Connect
) -> None:
    entry = await add_served()
    await act(hass, entry, "apply_schedule", charge=TONIGHT)
    told = async_capture_events(hass, "chargehand_schedule")
    async with logger() as connected:
        await connected.write(RESERVE_LEVEL, 31)
        await connected.write(RATED_POWER, 1)
    assert [event.data["values"] for event in told] == [[31]], "the other one was refused by the inverter"
    assert state(hass, "sensor", "schedule_status").state == "confirmed"
    await entry.runtime_data.async_refresh()
    assert state(hass, "number", "reserve_level").state == "31.0", "at the next poll, fast or slow"


async def test_writes_are_refused_where_the_owner_says_so_and_that_is_told_once_a_day(
    hass: HomeAssistant, bench: Bench, add_served: Add, logger: Connect
) -> None:
    entry = await add_served(writes="refuse")
    before = await held(bench)
    async with logger() as connected:
        for _ in range(3):
            assert await connected.write(CHARGE[0].power, 1234) == bytes((0x90, 2))
        assert await connected.ask(bytes.fromhex("41 00")) == bytes((0xC1, 2)), "it may write anything"
        assert await connected.read("holding", RATED_POWER) == (5000,)
    assert await held(bench) == before
    told = issue(hass, entry, "logger_refused")
    assert told is not None
    assert told.translation_placeholders is not None
    assert told.translation_placeholders["what"] == f"register {CHARGE[0].power} now 1234 (was 2000)"
    ir.async_delete_issue(hass, "chargehand", told.issue_id)
    async with logger() as connected:
        await connected.write(CHARGE[0].power, 1234)
    assert issue(hass, entry, "logger_refused") is None
    assert entry.runtime_data.data_logger.counts.refused == 5


async def test_a_sign_of_life_every_second_is_told_once_and_writes_to_the_schedule_each_time(
    hass: HomeAssistant, bench: Bench, add_served: Add, logger: Connect
) -> None:
    await add_served()
    told = async_capture_events(hass, "chargehand_schedule")
    async with logger() as connected:
        for number in range(3):
            await connected.write(RESERVE_LEVEL, 30 + number)
            await connected.write(CHARGE[0].power, 1000 + number)
    assert [event.data["values"] for event in told] == [[30], [1000], [1001], [1002]]


async def test_a_port_that_cannot_be_had_is_an_issue_and_is_tried_again(
    hass: HomeAssistant, add_served: Add, free_port: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(data_logger, "TRY_AGAIN_SECONDS", 0.05)
    taken = await asyncio.start_server(lambda _reader, _writer: None, None, free_port)
    entry = await add_served()
    told = issue(hass, entry, "logger_port_closed")
    assert told is not None
    assert told.translation_placeholders is not None
    assert told.translation_placeholders["port"] == str(free_port)
    assert state(hass, "binary_sensor", "data_logger").state == "off"
    taken.close()
    await until(lambda: issue(hass, entry, "logger_port_closed") is None)
    assert await is_open(free_port)
    await hass.config_entries.async_unload(entry.entry_id)
    assert not await is_open(free_port)


async def test_a_port_that_is_tried_again_is_not_opened_after_the_entry_has_gone(
    hass: HomeAssistant, add_served: Add, free_port: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(data_logger, "TRY_AGAIN_SECONDS", 0.05)
    taken = await asyncio.start_server(lambda _reader, _writer: None, None, free_port)
    entry = await add_served()
    await hass.config_entries.async_unload(entry.entry_id)
    taken.close()
    await asyncio.sleep(0.2)
    assert not await is_open(free_port)


async def test_an_entry_that_is_unloaded_leaves_no_issue_of_its_port(
    hass: HomeAssistant, add_served: Add, free_port: int
) -> None:
    taken = await asyncio.start_server(lambda _reader, _writer: None, None, free_port)
    entry = await add_served()
    assert issue(hass, entry, "logger_port_closed") is not None
    await hass.config_entries.async_unload(entry.entry_id)
    assert issue(hass, entry, "logger_port_closed") is None, "nobody tries to open it any more"
    taken.close()


async def test_nothing_is_served_before_the_entrys_own_first_read(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter, settled: Settled, free_port: int
) -> None:
    await bench.inverter(answers=False)
    entry = await add_inverter(bench.port, state=ConfigEntryState.SETUP_RETRY, data_logger=settled)
    assert not await is_open(free_port)
    await bench.inverter(answers=True)
    await hass.config_entries.async_reload(entry.entry_id)
    assert await is_open(free_port)


async def test_the_port_is_there_again_after_a_reload_and_gone_once_home_assistant_stops(
    hass: HomeAssistant, add_served: Add, logger: Connect, free_port: int
) -> None:
    entry = await add_served()
    async with logger() as connected:
        await connected.read("holding", RATED_POWER)
        await hass.config_entries.async_reload(entry.entry_id)
        assert await connected.ended()
    async with logger() as connected:
        assert await connected.read("holding", RATED_POWER) == (5000,), "at its first try"
    hass.bus.async_fire(EVENT_HOMEASSISTANT_STOP)
    await hass.async_block_till_done()
    assert not await is_open(free_port)


async def submit(hass: HomeAssistant, entry: MockConfigEntry, given: dict[str, Any]) -> Any:
    menu = await hass.config_entries.options.async_init(entry.entry_id)
    flow = menu["flow_id"]
    await hass.config_entries.options.async_configure(flow, {"next_step_id": "data_logger"})
    result = await hass.config_entries.options.async_configure(flow, given)
    await hass.async_block_till_done()
    return result


async def test_the_form_keeps_what_was_entered_and_the_port_opens(
    hass: HomeAssistant, entry: MockConfigEntry, settled: Settled, free_port: int
) -> None:
    done = await submit(hass, entry, settled)
    assert done["type"] == "create_entry"
    assert entry.options["data_logger"] == settled
    assert await is_open(free_port)
    await submit(hass, entry, {key: value for key, value in settled.items() if key != "port"})
    assert not await is_open(free_port)
    assert find_entity(hass, "binary_sensor", "data_logger") is None


@pytest.mark.parametrize(
    ("given", "error"),
    [
        ({"hosts": []}, {"hosts": "no_hosts"}),
        ({"hosts": ["127.0.0.1", "logger.local"]}, {"hosts": "no_address"}),
        ({"port": 5020.5}, {"port": "not_whole"}),
    ],
)
async def test_the_form_says_what_is_wrong(
    hass: HomeAssistant, entry: MockConfigEntry, settled: Settled, given: Settled, error: dict[str, str]
) -> None:
    form = await submit(hass, entry, settled | given)
    assert (form["type"], form["errors"]) == ("form", error)
    assert "data_logger" not in entry.options


async def test_an_address_is_served_in_whichever_way_it_is_written(
    hass: HomeAssistant, entry: MockConfigEntry, settled: Settled, logger: Connect
) -> None:
    """An IPv4 address inside of an IPv6 one (RFC 4291, 2.5.5.2)."""
    await submit(hass, entry, settled | {"hosts": [" ::ffff:127.0.0.1 "]})
    async with logger() as connected:
        assert await connected.read("holding", RATED_POWER) == (5000,)


async def test_two_inverters_cannot_have_one_port(
    hass: HomeAssistant, bench: Bench, entry: MockConfigEntry, settled: Settled
) -> None:
    MockConfigEntry(domain="chargehand", title="Other", options={"data_logger": settled}).add_to_hass(hass)
    form = await submit(hass, entry, settled)
    assert form["errors"] == {"port": "port_taken"}
    assert form["description_placeholders"]["detail"] == "Other"
