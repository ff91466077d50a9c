"""An adapter that is plugged into the house's computer: a real pseudo-terminal, with the bench's RTU frames at its far end."""

from collections.abc import AsyncIterator
from pathlib import Path

import pytest
from homeassistant.components.usb import async_get_serial_port_consumers
from homeassistant.config_entries import SOURCE_USER, ConfigEntryState, ConfigFlowResult
from homeassistant.core import HomeAssistant
from homeassistant.data_entry_flow import FlowResultType

from tests.bench.remote import Bench
from tests.calls import apply_draft, state
from tests.conftest import QUICK, SERIAL
from tests.plain_map import write_map
from tests.pseudo_terminal import adapter_to


@pytest.fixture
async def device(socket_enabled: None) -> AsyncIterator[str]:
    """Yield the device file of an adapter whose bus ends in the bench."""
    async with await Bench.start(**QUICK, gateway="transparent") as bench, adapter_to(bench.port) as device:
        yield device


async def first_form(hass: HomeAssistant, **changed: object) -> ConfigFlowResult:
    form = await hass.config_entries.flow.async_init("chargehand", context={"source": SOURCE_USER})
    data = {"host": "", "port": 502, "framing": "serial", "register_map": "teasel_t5"} | changed
    return await hass.config_entries.flow.async_configure(form["flow_id"], data)


async def test_an_inverter_on_an_adapter_is_found_added_and_committed_to(
    hass: HomeAssistant, device: str, london: None
) -> None:
    form = await first_form(hass)
    assert form["step_id"] == "serial"
    adapter = {"device": device, "baud": "9600", "parity": "n", "stop_bits": "1"}
    form = await hass.config_entries.flow.async_configure(form["flow_id"], adapter)
    assert form["step_id"] == "confirm", form["errors"]
    done = await hass.config_entries.flow.async_configure(form["flow_id"], {"allow_control": True})
    assert done["type"] is FlowResultType.CREATE_ENTRY
    entry = done["result"]
    await hass.async_block_till_done()
    assert entry.unique_id == SERIAL
    assert entry.data == {
        "framing": "serial", "register_map": "teasel_t5", "device": device, "baud": 9600, "parity": "n", "stop_bits": 1
    }  # fmt: skip
    assert float(state(hass, "sensor", "battery_voltage").state) > 40
    await hass.services.async_call(
        "number", "set_value", {"entity_id": "number.teasel_t5_charge_window_1_stop_level", "value": 91}, blocking=True
    )
    await apply_draft(hass)
    assert state(hass, "sensor", "schedule_status").state == "confirmed"
    assert await hass.config_entries.async_unload(entry.entry_id)


async def test_one_without_a_map_is_found_on_an_adapter_too(hass: HomeAssistant, device: str, london: None) -> None:
    form = await first_form(hass, register_map="none")
    assert form["step_id"] == "line"
    line = {"unit": 1, "numbering": "from_0", "longest_read": 125, "pause_ms": 0, "timeout_ms": 1000}
    form = await hass.config_entries.flow.async_configure(form["flow_id"], {**line, "test_table": "holding"})
    assert form["step_id"] == "serial"
    adapter = {"device": device, "baud": "9600", "parity": "n", "stop_bits": "1"}
    form = await hass.config_entries.flow.async_configure(form["flow_id"], adapter)
    assert form["step_id"] == "unmapped", form["errors"]
    entry = (await hass.config_entries.flow.async_configure(form["flow_id"], {}))["result"]
    await hass.async_block_till_done()
    assert entry.state is ConfigEntryState.LOADED
    assert (entry.data["unit"], entry.data["device"], entry.data["register_map"]) == (1, device, "none")
    assert await hass.config_entries.async_unload(entry.entry_id)


async def test_an_adapter_that_is_not_there_is_refused(hass: HomeAssistant, london: None) -> None:
    form = await first_form(hass)
    adapter = {"device": "/dev/no-such-adapter", "baud": "9600", "parity": "n", "stop_bits": "1"}
    form = await hass.config_entries.flow.async_configure(form["flow_id"], adapter)
    assert form["errors"] == {"base": "cannot_open"}
    form = await hass.config_entries.flow.async_configure(form["flow_id"], adapter | {"baud": "fast"})
    assert form["errors"] == {"baud": "no_baud_rate"}
    hass.config_entries.flow.async_abort(form["flow_id"])


async def test_mistakes_of_a_map_lead_back_to_the_form_where_it_is_picked(
    hass: HomeAssistant, device: str, london: None
) -> None:
    write_map(Path(hass.config.path("chargehand")), "readings: {}\n")
    form = await first_form(hass, register_map="plain")
    adapter = {"device": device, "baud": "9600", "parity": "n", "stop_bits": "1"}
    form = await hass.config_entries.flow.async_configure(form["flow_id"], adapter)
    assert (form["step_id"], form["errors"]) == ("user", {"register_map": "map_invalid"})
    assert form["description_placeholders"] is not None
    assert "\n- plain.yaml:" in form["description_placeholders"]["lists"]
    hass.config_entries.flow.async_abort(form["flow_id"])


async def test_without_gateway_and_adapter_the_form_says_what_is_missing(hass: HomeAssistant) -> None:
    form = await first_form(hass, framing="tcp", host="  ")
    assert form["errors"] == {"host": "host_missing"}
    hass.config_entries.flow.async_abort(form["flow_id"])


async def second_form(hass: HomeAssistant, device: str) -> ConfigFlowResult:
    form = await first_form(hass)
    adapter = {"device": device, "baud": "9600", "parity": "n", "stop_bits": "1"}
    return await hass.config_entries.flow.async_configure(form["flow_id"], adapter)


async def test_a_serial_port_in_the_network_is_one_like_any_other(
    hass: HomeAssistant, socket_enabled: None, london: None
) -> None:
    async with await Bench.start(**QUICK, gateway="transparent") as bench:
        form = await second_form(hass, f"socket://{bench.host}:{bench.port}")
        assert form["step_id"] == "confirm", form["errors"]
        done = await hass.config_entries.flow.async_configure(form["flow_id"], {"allow_control": False})
        await hass.async_block_till_done()
        assert float(state(hass, "sensor", "battery_voltage").state) > 40
        assert await hass.config_entries.async_unload(done["result"].entry_id)


@pytest.mark.parametrize(
    ("device", "why"),
    [
        ("/dev/no-such-adapter", "No such file or directory"),
        ("esphome-hass://esphome/0123?port_name=bus", "ESPHome has not loaded yet"),
        ("no-such-kind://port", "No handler registered for URI scheme"),
    ],
)
async def test_a_port_that_cannot_be_opened_is_refused_with_the_reason(
    hass: HomeAssistant, socket_enabled: None, device: str, why: str
) -> None:
    """ESPHome's ports are the platform's: until ESPHome is there, a stub of the platform says so by an error of the platform's own."""
    form = await second_form(hass, device)
    assert form["errors"] == {"base": "cannot_open"}
    assert form["description_placeholders"] is not None
    assert why in form["description_placeholders"]["detail"]
    hass.config_entries.flow.async_abort(form["flow_id"])


async def test_the_platform_can_say_whose_the_port_is(hass: HomeAssistant, device: str, london: None) -> None:
    form = await second_form(hass, device)
    done = await hass.config_entries.flow.async_configure(form["flow_id"], {"allow_control": False})
    await hass.async_block_till_done()
    (user,) = (await async_get_serial_port_consumers(hass, []))[device]
    assert (user.domain, user.title, user.active) == ("chargehand", "Teasel T5", True)
    assert await hass.config_entries.async_unload(done["result"].entry_id)
