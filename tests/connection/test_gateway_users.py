"""A gateway that another integration holds through the platform's own Modbus connections: named, and not fought over."""

from collections.abc import AsyncIterator, Awaitable, Callable

import pytest
from homeassistant.components.modbus import async_get_unit
from homeassistant.config_entries import SOURCE_USER, ConfigEntry, ConfigFlow, ConfigFlowResult
from homeassistant.core import HomeAssistant
from homeassistant.helpers import issue_registry as ir
from homeassistant.setup import async_setup_component
from modbus_connection import ModbusSerialParams, ModbusTcpParams, ModbusUnit
from pytest_homeassistant_custom_component.common import (
    MockConfigEntry,
    MockModule,
    mock_config_flow,
    mock_integration,
    mock_platform,
)

from tests.bench.remote import Bench
from tests.bench.teasel import RATED_POWER
from tests.conftest import QUICK, AddInverter
from tests.pseudo_terminal import adapter_to

type Hold = Callable[[ModbusTcpParams | ModbusSerialParams], Awaitable[MockConfigEntry]]

METER = "Cellar meter"


@pytest.fixture
async def hold(hass: HomeAssistant, socket_enabled: None) -> AsyncIterator[Hold]:
    """Let another integration hold a unit on the platform's shared connection; it reads once, so that the connection is there."""
    assert await async_setup_component(hass, "modbus", {})
    held: list[MockConfigEntry] = []
    wanted: list[ModbusTcpParams | ModbusSerialParams] = []

    async def setup(hass: HomeAssistant, entry: ConfigEntry) -> bool:
        unit: ModbusUnit = async_get_unit(hass, entry, wanted[-1], 1)
        assert await unit.read_holding_registers(RATED_POWER, 1) == [5000]
        return True

    async def unload(hass: HomeAssistant, entry: ConfigEntry) -> bool:
        return True

    mock_integration(hass, MockModule("meter", async_setup_entry=setup, async_unload_entry=unload))
    mock_platform(hass, "meter.config_flow")

    async def holding(params: ModbusTcpParams | ModbusSerialParams) -> MockConfigEntry:
        wanted.append(params)
        entry = MockConfigEntry(domain="meter", title=METER)
        entry.add_to_hass(hass)
        assert await hass.config_entries.async_setup(entry.entry_id)
        held.append(entry)
        return entry

    with mock_config_flow("meter", ConfigFlow):
        yield holding
        for entry in held:
            await hass.config_entries.async_unload(entry.entry_id)


def issue(hass: HomeAssistant, entry: MockConfigEntry) -> ir.IssueEntry | None:
    return ir.async_get(hass).async_get_issue("chargehand", f"gateway_shared_{entry.entry_id}")


def of(bench: Bench) -> ModbusTcpParams:
    return ModbusTcpParams(host=bench.host, port=bench.port)


async def submit(hass: HomeAssistant, port: int) -> ConfigFlowResult:
    form = await hass.config_entries.flow.async_init("chargehand", context={"source": SOURCE_USER})
    data = {"host": "127.0.0.1", "port": port, "framing": "tcp", "register_map": "teasel_t5"}
    return await hass.config_entries.flow.async_configure(form["flow_id"], data)


async def test_another_integration_on_the_gateway_is_named_until_it_leaves(
    hass: HomeAssistant, bench: Bench, hold: Hold, add_inverter: AddInverter
) -> None:
    other = await hold(of(bench))
    entry = await add_inverter(bench.port)
    found = issue(hass, entry)
    assert found is not None
    assert found.translation_placeholders == {"gateway": f"127.0.0.1:{bench.port}", "users": METER}
    assert entry.runtime_data.inverter.line.gateway.back_off.shared
    assert await hass.config_entries.async_unload(other.entry_id)
    await entry.runtime_data.async_refresh()
    assert issue(hass, entry) is None
    assert not entry.runtime_data.inverter.line.gateway.back_off.shared


async def test_one_that_comes_later_is_named_at_the_next_poll(
    hass: HomeAssistant, bench: Bench, hold: Hold, add_inverter: AddInverter
) -> None:
    entry = await add_inverter(bench.port)
    assert issue(hass, entry) is None
    await hold(of(bench))
    await entry.runtime_data.async_refresh()
    assert issue(hass, entry) is not None


async def test_one_on_another_port_is_nobodys_concern(
    hass: HomeAssistant, bench: Bench, hold: Hold, add_inverter: AddInverter
) -> None:
    async with await Bench.start(**QUICK) as elsewhere:
        other = await hold(of(elsewhere))
        entry = await add_inverter(bench.port)
        assert issue(hass, entry) is None
        await hass.config_entries.async_unload(other.entry_id)


async def test_frames_of_a_serial_line_through_the_same_port_are_the_same_gateway(
    hass: HomeAssistant, hold: Hold, add_inverter: AddInverter
) -> None:
    async with await Bench.start(**QUICK, framing="rtu_over_tcp") as bench:
        other = await hold(ModbusSerialParams(device=f"socket://127.0.0.1:{bench.port}", framer="rtu", baudrate=115200))
        entry = await add_inverter(bench.port, framing="rtu_over_tcp")
        assert issue(hass, entry) is not None
        await hass.config_entries.async_unload(entry.entry_id)
        await hass.config_entries.async_unload(other.entry_id)


@pytest.mark.parametrize("expected_lingering_timers", [True])  # the hub's own, which nothing but a restart ends
async def test_a_hub_of_the_configuration_file_is_named_too(
    hass: HomeAssistant, bench: Bench, add_inverter: AddInverter
) -> None:
    sensor = {"name": "Rated power", "address": RATED_POWER, "slave": 1}
    hub = {"name": "workshop", "type": "tcp", "host": "127.0.0.1", "port": bench.port, "sensors": [sensor]}
    assert await async_setup_component(hass, "modbus", {"modbus": [hub]})
    await hass.async_block_till_done()
    entry = await add_inverter(bench.port)
    found = issue(hass, entry)
    assert found is not None
    assert found.translation_placeholders is not None
    assert found.translation_placeholders["users"] == "workshop"
    await hass.async_stop(force=True)


async def test_the_form_names_who_is_on_the_gateway_too(hass: HomeAssistant, bench: Bench, hold: Hold) -> None:
    await hold(of(bench))
    form = await submit(hass, bench.port)
    assert form["step_id"] == "confirm"
    assert form["description_placeholders"] is not None
    assert METER in form["description_placeholders"]["users"]
    hass.config_entries.flow.async_abort(form["flow_id"])


async def test_the_form_names_nobody_where_there_is_nobody(hass: HomeAssistant, bench: Bench) -> None:
    form = await submit(hass, bench.port)
    assert form["description_placeholders"] is not None
    assert form["description_placeholders"]["users"] == ""
    hass.config_entries.flow.async_abort(form["flow_id"])


async def test_a_gateway_whose_only_connection_another_integration_has_is_reported_with_its_name(
    hass: HomeAssistant, hold: Hold
) -> None:
    async with await Bench.start(**QUICK, gateway="single") as bench:
        other = await hold(of(bench))
        form = await submit(hass, bench.port)
        assert form["errors"] == {"base": "connection_refused_busy"}
        assert form["description_placeholders"] is not None
        assert METER in form["description_placeholders"]["detail"]
        hass.config_entries.flow.async_abort(form["flow_id"])
        assert (await bench.stats())["connections"] == 1, "the other one kept its connection"
        await hass.config_entries.async_unload(other.entry_id)


async def test_an_adapter_that_another_integration_has_is_not_opened(hass: HomeAssistant, hold: Hold) -> None:
    async with await Bench.start(**QUICK, gateway="transparent") as bench, adapter_to(bench.port) as device:
        other = await hold(ModbusSerialParams(device=device, framer="rtu", baudrate=9600))
        form = await hass.config_entries.flow.async_init("chargehand", context={"source": SOURCE_USER})
        form = await hass.config_entries.flow.async_configure(
            form["flow_id"], {"host": "", "port": 502, "framing": "serial", "register_map": "teasel_t5"}
        )
        form = await hass.config_entries.flow.async_configure(
            form["flow_id"], {"device": device, "baud": "9600", "parity": "n", "stop_bits": "1"}
        )
        assert form["errors"] == {"base": "cannot_open"}
        assert form["description_placeholders"] is not None
        assert "already locked" in form["description_placeholders"]["detail"]
        hass.config_entries.flow.async_abort(form["flow_id"])
        await hass.config_entries.async_unload(other.entry_id)
