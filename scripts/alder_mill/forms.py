"""What a user fills in: the forms that add the inverter, and those of its options."""

from typing import Any

from homeassistant.config_entries import ConfigEntry
from homeassistant.core import HomeAssistant
from homeassistant.data_entry_flow import FlowResultType
from homeassistant.helpers import device_registry as dr

from .faults import DemoFailed

NIGHT = {"start": "01:00:00", "end": "05:00:00", "buy": 0.11}
TARIFF = {"buy": 0.31, "sell": 0.06, "bands": [NIGHT], "keeps": "local"}
"""The two rates of Alder Mill, in GBP per kWh; invented."""

BATTERY = {
    "capacity_kwh": 10.0,
    "charge_kw": 5.0,
    "discharge_kw": 5.0,
    "charge_efficiency": 94,
    "discharge_efficiency": 94,
    "reserve_level": 20,
    "highest_level": 100,
    "wear": 0,
    "fallback_level": 90,
    "load_sensor": "sensor.teasel_t5_load_energy",
    "solar_sensor": "sensor.teasel_t5_solar_energy",
}
"""As the form comes, which asks the inverter."""

OPTIONS = {"battery": BATTERY, "tariff": TARIFF}


async def add_inverter(hass: HomeAssistant, port: int) -> str:
    """Add the inverter through the same forms that a user fills in. Return its device's id."""
    flow = hass.config_entries.flow
    form = await flow.async_init("chargehand", context={"source": "user"})
    form = await flow.async_configure(
        form["flow_id"], {"host": "127.0.0.1", "port": port, "framing": "tcp", "register_map": "teasel_t5"}
    )
    if form.get("step_id") != "confirm":
        raise DemoFailed(f"the inverter was not found: {form.get('errors')}")
    found: dict[str, Any] = dict(form["description_placeholders"] or {})
    print(
        f"Found {found['maker']} {found['model']}, serial number {found['serial']}, battery at {found['level']}, "
        f"round trip {found['round_trip']}, its clock off by {found['clock']}."
    )
    done = await flow.async_configure(form["flow_id"], {"allow_control": True})
    if done["type"] is not FlowResultType.CREATE_ENTRY:
        raise DemoFailed("the inverter could not be added")
    await hass.async_block_till_done()
    entry = hass.config_entries.async_entries("chargehand")[0]
    devices = dr.async_entries_for_config_entry(dr.async_get(hass), entry.entry_id)
    if not devices:
        raise DemoFailed(f"the inverter is not running: {entry.reason}")
    return devices[0].id


async def fill_in_options(hass: HomeAssistant, entry: ConfigEntry) -> None:
    """Fill in the battery and the night rate in the forms of the options."""
    flow = hass.config_entries.options
    for step, typed in OPTIONS.items():
        menu = await flow.async_init(entry.entry_id)
        await flow.async_configure(menu["flow_id"], {"next_step_id": step})
        done = await flow.async_configure(menu["flow_id"], typed)
        if done["type"] is not FlowResultType.CREATE_ENTRY:
            raise DemoFailed(f"the form {step} did not take {typed}: {done.get('errors')}")
        await hass.async_block_till_done()
