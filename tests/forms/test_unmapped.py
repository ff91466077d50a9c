"""An inverter without a register map: it can be added and read, and nothing else; a map that comes later takes its place."""

from collections.abc import AsyncIterator
from pathlib import Path
from typing import Any

import pytest
from homeassistant.config_entries import (
    SOURCE_RECONFIGURE,
    SOURCE_USER,
    ConfigEntry,
    ConfigEntryState,
    ConfigFlowContext,
    ConfigFlowResult,
)
from homeassistant.core import HomeAssistant
from homeassistant.data_entry_flow import FlowResultType
from homeassistant.exceptions import ServiceValidationError
from homeassistant.helpers import device_registry as dr
from homeassistant.helpers import entity_registry as er
from homeassistant.helpers import issue_registry as ir
from homeassistant.setup import async_setup_component
from pytest_homeassistant_custom_component.common import get_system_health_info
from pytest_homeassistant_custom_component.typing import WebSocketGenerator

from custom_components.chargehand.actions.registration import ACTIONS
from custom_components.chargehand.diagnostics import async_get_config_entry_diagnostics
from tests.bench.plain import HOLDING, INPUT, plain_device
from tests.bench.remote import Bench
from tests.conftest import SERIAL, AddInverter
from tests.plain_map import write_map

GATEWAY = {"host": "127.0.0.1", "framing": "tcp"}
LINE = {
    "unit": 1,
    "numbering": "from_0",
    "longest_read": 125,
    "pause_ms": 0,
    "timeout_ms": 500,
    "test_table": "holding",
}
OF_LINE = {"line_round_trip", "line_errors", "line_busy"}


async def first_form(hass: HomeAssistant, port: int, **changed: object) -> ConfigFlowResult:
    form = await hass.config_entries.flow.async_init("chargehand", context={"source": SOURCE_USER})
    data = {**GATEWAY, "port": port, "register_map": "none"} | changed
    return await hass.config_entries.flow.async_configure(form["flow_id"], data)


async def line_form(hass: HomeAssistant, port: int, **line: object) -> ConfigFlowResult:
    """Pick no map, and fill in what one would say of the line."""
    form = await first_form(hass, port)
    assert form["step_id"] == "line", form
    return await hass.config_entries.flow.async_configure(form["flow_id"], LINE | line)


async def added(hass: HomeAssistant, port: int, **line: object) -> ConfigEntry:
    shown = await line_form(hass, port, **line)
    assert shown["step_id"] == "unmapped", shown
    done = await hass.config_entries.flow.async_configure(shown["flow_id"], {})
    await hass.async_block_till_done()
    entry: ConfigEntry = done["result"]
    assert entry.state is ConfigEntryState.LOADED, entry.reason
    return entry


async def reconfiguring(hass: HomeAssistant, entry: ConfigEntry) -> ConfigFlowResult:
    context = ConfigFlowContext(source=SOURCE_RECONFIGURE, entry_id=entry.entry_id)
    return await hass.config_entries.flow.async_init("chargehand", context=context)


def keys(hass: HomeAssistant, entry: ConfigEntry) -> set[str]:
    """What the entry's entities show."""
    found = er.async_entries_for_config_entry(er.async_get(hass), entry.entry_id)
    return {one.unique_id.removeprefix(f"{entry.entry_id}_") for one in found}


def device_of(hass: HomeAssistant, entry: ConfigEntry) -> dr.DeviceEntry:
    (device,) = dr.async_entries_for_config_entry(dr.async_get(hass), entry.entry_id)
    return device


async def asked(hass: HomeAssistant, entry: ConfigEntry, action: str, **data: object) -> Any:
    return await hass.services.async_call(
        "chargehand", action, {"device_id": device_of(hass, entry).id, **data}, blocking=True, return_response=True
    )


@pytest.fixture
async def unmapped(hass: HomeAssistant, bench: Bench, london: None) -> AsyncIterator[ConfigEntry]:
    entry = await added(hass, bench.port)
    yield entry
    if entry.state is ConfigEntryState.LOADED:
        await hass.config_entries.async_unload(entry.entry_id)


async def test_one_without_a_map_has_the_lines_sensors_and_nothing_else(
    hass: HomeAssistant, bench: Bench, unmapped: ConfigEntry
) -> None:
    assert (unmapped.title, unmapped.unique_id, unmapped.options) == ("Inverter", None, {})
    assert keys(hass, unmapped) == OF_LINE
    device = device_of(hass, unmapped)
    assert (device.name, device.manufacturer, device.model) == ("Inverter", None, None)
    errors = hass.states.get("sensor.inverter_line_errors")
    assert errors is not None
    assert errors.state == "0"
    assert {one["function"] for one in await bench.journal()} <= {3, 4}


async def test_its_registers_are_read_and_compared(hass: HomeAssistant, bench: Bench, unmapped: ConfigEntry) -> None:
    stretch = {"table": "holding", "first": 740, "count": 4}
    before = await asked(hass, unmapped, "read_registers", **stretch)
    assert before["registers"] == {"740": 2240, "741": 2000, "742": 100, "743": 220}
    await bench.set(740, [2305])
    after = await asked(hass, unmapped, "compare_registers", **stretch, snapshot=before)
    assert [(one["register"], one["was"], one["now"]) for one in after["changes"]] == [(740, 2240, 2305)]


async def test_every_other_action_says_that_there_is_no_map_and_what_to_do(
    hass: HomeAssistant, bench: Bench, unmapped: ConfigEntry
) -> None:
    sent = len(await bench.journal())
    for name, action in ACTIONS.items():
        if name in {"read_registers", "compare_registers"}:
            continue
        carry_out = hass.services.async_services()["chargehand"][name]
        # What an action takes is judged before: here it is none of ours.
        carry_out.schema = None
        with pytest.raises(ServiceValidationError) as refused:
            await hass.services.async_call(
                "chargehand",
                name,
                {"device_id": device_of(hass, unmapped).id},
                blocking=True,
                return_response=action.answers is not None and action.answers.value != "none",
            )
        assert refused.value.translation_key == "no_map", name
        assert "Inverter has no register map yet" in str(refused.value)
        assert "Reconfigure" in str(refused.value)
    assert not [one for one in await bench.journal(sent) if one["function"] not in {3, 4}]


async def test_registers_count_as_the_form_says(hass: HomeAssistant, bench: Bench, london: None) -> None:
    entry = await added(hass, bench.port, numbering="from_1", longest_read=2)
    answer = await asked(hass, entry, "read_registers", table="holding", first=741, count=4)
    assert answer["numbering"] == "from_1"
    assert answer["registers"] == {"741": 2240, "742": 2000, "743": 100, "744": 220}
    assert max(one["count"] for one in await bench.journal()) == 2
    await hass.config_entries.async_unload(entry.entry_id)


async def test_a_map_that_comes_later_keeps_entry_entities_and_history(
    hass: HomeAssistant, bench: Bench, unmapped: ConfigEntry
) -> None:
    registry = er.async_get(hass)
    before = {one.unique_id: (one.id, one.entity_id) for one in registry.entities.values()}
    device = device_of(hass, unmapped).id
    form = await reconfiguring(hass, unmapped)
    done = await hass.config_entries.flow.async_configure(
        form["flow_id"], {**GATEWAY, "port": bench.port, "register_map": "teasel_t5"}
    )
    await hass.async_block_till_done()
    assert done["reason"] == "reconfigure_successful"
    assert (unmapped.state, unmapped.unique_id, unmapped.title) == (ConfigEntryState.LOADED, SERIAL, "Teasel T5")
    assert "line" not in unmapped.data
    after = {one.unique_id: (one.id, one.entity_id) for one in registry.entities.values()}
    assert before.items() <= after.items()
    assert len(after) > 40
    now = device_of(hass, unmapped)
    assert (now.id, now.name, now.manufacturer, now.serial_number) == (device, "Teasel T5", "Teasel", SERIAL)
    assert "sensor.teasel_t5_battery_level" in {entity_id for _, entity_id in after.values()}


async def test_a_name_that_was_given_stays(hass: HomeAssistant, bench: Bench, unmapped: ConfigEntry) -> None:
    hass.config_entries.async_update_entry(unmapped, title="Cellar")
    form = await reconfiguring(hass, unmapped)
    await hass.config_entries.flow.async_configure(
        form["flow_id"], {**GATEWAY, "port": bench.port, "register_map": "teasel_t5"}
    )
    await hass.async_block_till_done()
    assert unmapped.title == "Cellar"


async def test_a_map_can_be_taken_away_again(hass: HomeAssistant, bench: Bench, add_inverter: AddInverter) -> None:
    entry = await add_inverter(bench.port)
    form = await reconfiguring(hass, entry)
    form = await hass.config_entries.flow.async_configure(
        form["flow_id"], {**GATEWAY, "port": bench.port, "register_map": "none"}
    )
    assert form["step_id"] == "line"
    assert form["description_placeholders"] is not None
    assert form["description_placeholders"]["removes"] == "The entities of the map that it has now are removed."
    done = await hass.config_entries.flow.async_configure(form["flow_id"], LINE)
    await hass.async_block_till_done()
    assert done["reason"] == "reconfigure_successful"
    assert (entry.state, entry.unique_id) == (ConfigEntryState.LOADED, SERIAL)
    assert keys(hass, entry) == OF_LINE


async def test_a_map_with_mistakes_can_be_given_up_for_none(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter
) -> None:
    write_map(Path(hass.config.path("chargehand")), "readings: {}\n")
    entry = await add_inverter(bench.port, register_map="plain", state=ConfigEntryState.SETUP_ERROR)
    assert ir.async_get(hass).async_get_issue("chargehand", f"map_invalid_{entry.entry_id}") is not None
    form = await reconfiguring(hass, entry)
    form = await hass.config_entries.flow.async_configure(
        form["flow_id"], {**GATEWAY, "port": bench.port, "register_map": "none"}
    )
    await hass.config_entries.flow.async_configure(form["flow_id"], LINE)
    await hass.async_block_till_done()
    assert entry.state is ConfigEntryState.LOADED
    assert ir.async_get(hass).async_get_issue("chargehand", f"map_invalid_{entry.entry_id}") is None


async def test_one_without_a_map_is_added_once(hass: HomeAssistant, bench: Bench, unmapped: ConfigEntry) -> None:
    again = await line_form(hass, bench.port)
    assert (again["step_id"], again["errors"]) == ("line", {"base": "already_added"})
    assert again["description_placeholders"] is not None
    assert again["description_placeholders"]["detail"] == "Inverter"


async def test_diagnostics_and_system_health_take_one_without_a_map(hass: HomeAssistant, unmapped: ConfigEntry) -> None:
    told = await async_get_config_entry_diagnostics(hass, unmapped)
    assert told["map"]["id"] == "none"
    assert (told["values"], told["schedule"], told["last_poll_succeeded"]) == ({}, None, True)
    assert await async_setup_component(hass, "system_health", {})
    await hass.async_block_till_done()
    health = await get_system_health_info(hass, "chargehand")
    assert health["running"] == 1
    assert "Inverter" in health


async def test_its_options_offer_what_needs_no_map_and_say_why(hass: HomeAssistant, unmapped: ConfigEntry) -> None:
    menu = await hass.config_entries.options.async_init(unmapped.entry_id)
    assert (menu["step_id"], menu["menu_options"]) == ("unmapped", ["polling", "automations"])
    form = await hass.config_entries.options.async_configure(menu["flow_id"], {"next_step_id": "polling"})
    done = await hass.config_entries.options.async_configure(form["flow_id"], {"fast_seconds": 30, "slow_seconds": 300})
    assert done["type"] is FlowResultType.CREATE_ENTRY
    await hass.async_block_till_done()
    assert unmapped.state is ConfigEntryState.LOADED


async def test_the_day_card_says_that_there_is_no_map(
    hass: HomeAssistant, unmapped: ConfigEntry, hass_ws_client: WebSocketGenerator
) -> None:
    client = await hass_ws_client(hass)
    await client.send_json_auto_id({"type": "chargehand/day/subscribe", "device_id": device_of(hass, unmapped).id})
    assert (await client.receive_json())["success"]
    day = (await client.receive_json())["event"]
    assert day["inverter"]["mapped"] is False
    assert day["limits"] is None
    await client.send_json_auto_id({"type": "chargehand/rehearse", "device_id": device_of(hass, unmapped).id})
    answer = await client.receive_json()
    while "error" not in answer:
        answer = await client.receive_json()
    assert answer["error"]["translation_key"] == "no_map"


@pytest.mark.parametrize(
    "trigger", ["battery_room", "change_needs_decision", "cheap_hours_started", "charge_window_ended", "order_ended"]
)
async def test_an_automation_that_waits_for_it_is_reported_until_there_is_a_map(
    hass: HomeAssistant, bench: Bench, unmapped: ConfigEntry, trigger: str
) -> None:
    options = {"smoke": ["binary_sensor.smoke"]} if trigger == "battery_room" else {}
    waits = {
        "trigger": f"chargehand.{trigger}",
        "target": {"device_id": device_of(hass, unmapped).id},
        "options": options,
    }
    automation = {"alias": "Waits", "triggers": [waits], "actions": []}
    assert await async_setup_component(hass, "automation", {"automation": automation})
    await hass.async_block_till_done()
    state = hass.states.get("automation.waits")
    assert state is not None
    assert state.state == "on"
    issue = f"no_map_trigger_{unmapped.entry_id}"
    found = ir.async_get(hass).async_get_issue("chargehand", issue)
    assert found is not None
    assert found.translation_placeholders == {"inverter": "Inverter"}
    form = await reconfiguring(hass, unmapped)
    await hass.config_entries.flow.async_configure(
        form["flow_id"], {**GATEWAY, "port": bench.port, "register_map": "teasel_t5"}
    )
    await hass.async_block_till_done()
    assert ir.async_get(hass).async_get_issue("chargehand", issue) is None
    await hass.services.async_call("automation", "turn_off", {"entity_id": "automation.waits"}, blocking=True)


async def test_a_closed_port_is_shown_on_the_first_form_which_keeps_its_input(
    hass: HomeAssistant, bench: Bench, unused_tcp_port: int
) -> None:
    form = await line_form(hass, unused_tcp_port, unit=1)
    assert (form["step_id"], form["errors"]) == ("user", {"port": "port_closed"})
    form = await hass.config_entries.flow.async_configure(
        form["flow_id"], {**GATEWAY, "port": bench.port, "register_map": "none"}
    )
    assert form["step_id"] == "line"
    form = await hass.config_entries.flow.async_configure(form["flow_id"], LINE)
    assert form["step_id"] == "unmapped"


async def test_numbers_of_the_line_are_checked(hass: HomeAssistant, bench: Bench) -> None:
    form = await line_form(hass, bench.port, unit=1.5, test_register=65536)
    assert form["errors"] == {"unit": "not_whole", "test_register": "no_such_register"}
    form = await hass.config_entries.flow.async_configure(
        form["flow_id"], LINE | {"numbering": "from_1", "test_register": 0}
    )
    assert form["errors"] == {"test_register": "no_such_register"}


async def test_a_unit_that_says_nothing_is_told(hass: HomeAssistant, bench: Bench) -> None:
    form = await line_form(hass, bench.port, unit=9, timeout_ms=100)
    assert (form["step_id"], form["errors"]) == ("line", {"base": "no_answer"})


async def test_that_there_is_no_such_register_is_an_answer_and_no_error_of_the_line(
    hass: HomeAssistant, socket_enabled: None, london: None
) -> None:
    async with plain_device() as server:
        entry = await added(hass, server.port)
        assert (entry.data["line"]["test_table"], entry.data["line"]["test_register"]) == ("holding", 0)
        coordinator = entry.runtime_data
        for _ in range(3):
            await coordinator.async_refresh()
        assert coordinator.last_update_success
        assert hass.states.get("sensor.inverter_line_errors").state == "0"
        await hass.config_entries.async_unload(entry.entry_id)


async def test_a_register_that_is_there_is_looked_for_from_then_on(
    hass: HomeAssistant, socket_enabled: None, london: None
) -> None:
    async with plain_device(inputs={100: 7}) as server:
        entry = await added(hass, server.port, numbering="from_1")
        assert (entry.data["line"]["test_table"], entry.data["line"]["test_register"]) == ("input", 101)
        del server.requests[:]
        await entry.runtime_data.async_refresh()
        assert [(one.table, one.first, one.count) for one in server.requests] == [(INPUT, 100, 1)]
        await hass.config_entries.async_unload(entry.entry_id)


async def test_one_that_says_nothing_of_registers_that_it_does_not_have_is_found_by_one_that_it_has(
    hass: HomeAssistant, socket_enabled: None, london: None
) -> None:
    async with plain_device(holding={0: 0, 100: 0, 740: 1}, inputs={0: 0, 100: 0}) as server:
        server.silent = lambda request: not request.touches(HOLDING, 740)
        form = await line_form(hass, server.port, timeout_ms=100)
        assert form["errors"] == {"base": "no_answer"}
        entry = await added(hass, server.port, timeout_ms=100, test_register=740)
        server.silent = lambda _request: True
        for _ in range(2):
            await entry.runtime_data.async_refresh()
        assert not entry.runtime_data.last_update_success, "it does not count as there once it is gone"
        await hass.config_entries.async_unload(entry.entry_id)
