"""An inverter that speaks SunSpec needs no file: added, read and watched over real TCP, and never written to."""

import asyncio
import random
from collections.abc import AsyncIterator

import pytest
from homeassistant.config_entries import SOURCE_USER, ConfigEntryState, ConfigFlowResult
from homeassistant.core import HomeAssistant, State
from homeassistant.data_entry_flow import FlowResultType
from homeassistant.helpers import device_registry as dr
from homeassistant.helpers import entity_registry as er
from homeassistant.helpers import issue_registry as ir
from sunspec2.modbus.client import SunSpecModbusClientDeviceTCP

from tests.bench.sunspec_remote import SunSpecDevice, sunspec_device
from tests.calls import device_id, entity_id
from tests.conftest import AddInverter
from tests.core.registers.sunspec_blocks import PORTS, random_blocks
from tests.core.registers.sunspec_images import END, common, image_of, model_of

SERIAL = "S5-AM-2611-0042"
INVERTER = model_of(
    103, W=-1500, W_SF=0, PhVphA=2316, V_SF=-1, Hz=4998, Hz_SF=-2, WH=1234567, WH_SF=1, St=4, Evt1=0b1000001
)
BATTERY = model_of(802, SoC=875, SoC_SF=-1, V=512, V_SF=-1, W=-1480, W_SF=0, ChaSt=4)
METER = model_of(203, W=1700, W_SF=0, TotWhImp=54321, TotWhExp=9, TotWh_SF=2)
MODELS = [common(), INVERTER, BATTERY, METER]
AT_BATTERY = 40000 + 2 + 68 + 52


@pytest.fixture
async def device(socket_enabled: None) -> AsyncIterator[SunSpecDevice]:
    async with sunspec_device() as running:
        await running.put(40000, image_of(MODELS))
        yield running


def state(hass: HomeAssistant, platform: str, key: str) -> State:
    """Return the state of the entity of this device that shows `key`."""
    found = hass.states.get(entity_id(hass, platform, key, SERIAL))
    assert found is not None, f"{platform} {key} has no state"
    return found


async def submit(hass: HomeAssistant, port: int, **changed: object) -> ConfigFlowResult:
    form = await hass.config_entries.flow.async_init("chargehand", context={"source": SOURCE_USER})
    data = {"host": "127.0.0.1", "port": port, "framing": "tcp", "register_map": "sunspec"} | changed
    return await hass.config_entries.flow.async_configure(form["flow_id"], data)


async def test_it_stands_in_the_list_of_maps(hass: HomeAssistant) -> None:
    form = await hass.config_entries.flow.async_init("chargehand", context={"source": SOURCE_USER})
    assert form["data_schema"] is not None
    picked = form["data_schema"].schema["register_map"].config["options"]
    labels = {option["value"]: option["label"] for option in picked}
    assert labels["sunspec"] == "SunSpec (any inverter that speaks the open standard)"
    assert "teasel_t5" in labels


async def test_it_is_found_shown_and_added(hass: HomeAssistant, device: SunSpecDevice, london: None) -> None:
    form = await submit(hass, device.port)
    assert form["step_id"] == "confirm", form.get("errors")
    shown = form["description_placeholders"]
    assert shown is not None
    assert (shown["maker"], shown["model"], shown["serial"]) == ("Teasel", "S5", SERIAL)
    assert shown["level"] == "87.5 %"
    done = await hass.config_entries.flow.async_configure(form["flow_id"], {"allow_control": False})
    assert done["type"] is FlowResultType.CREATE_ENTRY
    entry = done["result"]
    assert (entry.unique_id, entry.title) == (SERIAL, "Teasel S5")
    await hass.async_block_till_done()
    assert entry.state is ConfigEntryState.LOADED
    assert await hass.config_entries.async_unload(entry.entry_id)
    assert await device.writes() == 0


async def test_its_entities_show_what_the_alliances_client_reads(
    hass: HomeAssistant, device: SunSpecDevice, add_inverter: AddInverter
) -> None:
    """The client is pysunspec2's (SunSpec Alliance): another program on the same registers, over TCP too."""
    entry = await add_inverter(device.port, unique_id=SERIAL, register_map="sunspec")

    def scan() -> SunSpecModbusClientDeviceTCP:
        client = SunSpecModbusClientDeviceTCP(slave_id=1, ipaddr="127.0.0.1", ipport=device.port)
        client.scan()
        client.close()
        return client

    read = await asyncio.to_thread(scan)
    inverter, battery, meter = (read.models[model_id][0].points for model_id in (103, 802, 203))
    shown = {
        "inverter_power": inverter["W"].cvalue,
        "grid_voltage": inverter["PhVphA"].cvalue,
        "grid_frequency": inverter["Hz"].cvalue,
        "inverter_energy": inverter["WH"].cvalue,
        "battery_level": battery["SoC"].cvalue,
        "battery_voltage": battery["V"].cvalue,
        # It charges (ChaSt 4), which is negative here.
        "battery_power": -abs(battery["W"].cvalue),
        "grid_power": meter["W"].cvalue,
        "grid_energy_imported": meter["TotWhImp"].cvalue / 1000,
        "grid_energy_exported": meter["TotWhExp"].cvalue / 1000,
    }
    got = {key: float(state(hass, "sensor", key).state) for key in shown}
    assert got == pytest.approx(shown, rel=1e-12)
    assert state(hass, "sensor", "inverter_state").state == "mppt"
    assert state(hass, "sensor", "battery_state").state == "charging"
    alarms = state(hass, "binary_sensor", "alarms")
    assert (alarms.state, alarms.attributes["active"]) == ("on", ["Ground fault", "Manual shutdown"])
    made = dr.async_get(hass).async_get(device_id(hass, entry))
    assert made is not None
    assert (made.manufacturer, made.model, made.serial_number, made.sw_version) == ("Teasel", "S5", SERIAL, "1.4")


async def test_strings_and_solar_power_of_its_dc_ports_are_what_the_alliances_client_reads(
    hass: HomeAssistant, device: SunSpecDevice, add_inverter: AddInverter
) -> None:
    ports = random_blocks(PORTS, random.Random(5), [0, 1, 0])
    for block, power in enumerate((1830, -700, 1210)):
        ports[20 + 25 * block + 12] = power & 0xFFFF
    await device.put(40000, [*image_of(MODELS, end=()), *ports, *END])
    await add_inverter(device.port, unique_id=SERIAL, register_map="sunspec")

    def scan() -> list[float]:
        client = SunSpecModbusClientDeviceTCP(slave_id=1, ipaddr="127.0.0.1", ipport=device.port)
        client.scan()
        client.close()
        return [port.points["DCW"].cvalue for port in client.models[714][0].groups["Prt"]]

    first, _, third = await asyncio.to_thread(scan)
    assert float(state(hass, "sensor", "solar_power").state) == pytest.approx(first + third, rel=1e-12)
    assert float(state(hass, "sensor", "string_1_power").state) == pytest.approx(first, rel=1e-12)
    assert float(state(hass, "sensor", "string_2_power").state) == pytest.approx(third, rel=1e-12)
    assert float(state(hass, "sensor", "battery_power").state) == -1480, "802 tells power and status"
    assert state(hass, "sensor", "battery_energy_charged").state != "unavailable"
    assert await device.writes() == 0


async def test_new_values_arrive_and_what_is_not_implemented_is_unknown(
    hass: HomeAssistant, device: SunSpecDevice, add_inverter: AddInverter
) -> None:
    entry = await add_inverter(device.port, unique_id=SERIAL, register_map="sunspec")
    assert state(hass, "sensor", "inverter_temperature").state == "unknown"
    await device.put(AT_BATTERY + 11, [420])
    await entry.runtime_data.async_refresh()
    await hass.async_block_till_done()
    assert state(hass, "sensor", "battery_level").state == "42.0"


async def test_it_has_nothing_to_set_even_where_control_is_allowed(
    hass: HomeAssistant, device: SunSpecDevice, add_inverter: AddInverter
) -> None:
    entry = await add_inverter(device.port, unique_id=SERIAL, register_map="sunspec")
    assert entry.options["allow_control"]
    shown = {entity.domain for entity in er.async_entries_for_config_entry(er.async_get(hass), entry.entry_id)}
    assert shown <= {"sensor", "binary_sensor", "event"}
    assert await device.writes() == 0


async def test_a_device_that_speaks_something_else_is_refused_on_the_form(
    hass: HomeAssistant, device: SunSpecDevice
) -> None:
    await device.clear()
    form = await submit(hass, device.port)
    assert form["errors"] == {"register_map": "map_invalid"}
    assert form["description_placeholders"] is not None
    lists = form["description_placeholders"]["lists"]
    assert "marker" in lists
    assert "choose another map" in lists
    hass.config_entries.flow.async_abort(form["flow_id"])


async def test_a_wrong_framing_is_named(hass: HomeAssistant, device: SunSpecDevice) -> None:
    form = await submit(hass, device.port, framing="rtu_over_tcp")
    assert form["errors"] == {"framing": "wrong_framing"}
    hass.config_entries.flow.async_abort(form["flow_id"])


async def test_a_broken_chain_stops_the_entry_and_raises_a_repair_issue(
    hass: HomeAssistant, device: SunSpecDevice, add_inverter: AddInverter
) -> None:
    await device.put(AT_BATTERY + 1, [60000])
    entry = await add_inverter(
        device.port, unique_id=SERIAL, register_map="sunspec", state=ConfigEntryState.SETUP_ERROR
    )
    (issue,) = ir.async_get(hass).issues.values()
    assert issue.translation_placeholders is not None
    assert "model 802 of 60000 registers" in issue.translation_placeholders["problems"]
    await device.put(AT_BATTERY + 1, [62])
    assert await hass.config_entries.async_reload(entry.entry_id)
    assert not ir.async_get(hass).issues
    assert await hass.config_entries.async_unload(entry.entry_id)


async def test_another_device_at_the_gateway_is_not_taken_for_this_one(
    hass: HomeAssistant, device: SunSpecDevice, add_inverter: AddInverter
) -> None:
    await device.put(40000, image_of([common(serial="S5-AM-2611-0043"), *MODELS[1:]]))
    entry = await add_inverter(
        device.port, unique_id=SERIAL, register_map="sunspec", state=ConfigEntryState.SETUP_ERROR
    )
    assert entry.error_reason_translation_key == "other_inverter"


async def test_a_gateway_that_is_down_is_tried_again(
    hass: HomeAssistant, socket_enabled: None, unused_tcp_port: int, add_inverter: AddInverter
) -> None:
    entry = await add_inverter(
        unused_tcp_port, unique_id=SERIAL, register_map="sunspec", state=ConfigEntryState.SETUP_RETRY
    )
    assert await hass.config_entries.async_unload(entry.entry_id)
