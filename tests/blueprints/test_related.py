"""The inverter's device shows the automations that were made from the blueprints for it."""

import shutil
from pathlib import Path

from homeassistant.components.automation import automations_with_device
from homeassistant.components.automation.const import DOMAIN as AUTOMATION
from homeassistant.components.search import DOMAIN as SEARCH
from homeassistant.core import HomeAssistant
from homeassistant.setup import async_setup_component
from pytest_homeassistant_custom_component.typing import WebSocketGenerator

from tests.bench.remote import Bench
from tests.blueprints.house import FOLDER
from tests.calls import device_id
from tests.conftest import AddInverter

NEEDED = {
    "battery_room_guard": {"temperatures": ["sensor.room"]},
    "expensive_hours_hold": {"price_sensor": "sensor.prices"},
}
"""Inputs without which one of them does not work."""


async def test_an_automation_of_each_is_related_to_the_inverters_device(
    hass: HomeAssistant,
    bench: Bench,
    add_inverter: AddInverter,
    tmp_path: Path,
    hass_ws_client: WebSocketGenerator,
) -> None:
    entry = await add_inverter(bench.port)
    inverter = device_id(hass, entry)
    hass.config.config_dir = str(tmp_path)
    await hass.async_add_executor_job(shutil.copytree, FOLDER, tmp_path / "blueprints" / "automation" / "chargehand")
    names = sorted(path.stem for path in FOLDER.glob("*.yaml"))
    uses = [
        {
            "id": name,
            "alias": name,
            "use_blueprint": {
                "path": f"chargehand/{name}.yaml",
                "input": {"inverter": inverter, **NEEDED.get(name, {})},
            },
        }
        for name in names
    ]
    assert await async_setup_component(hass, AUTOMATION, {AUTOMATION: uses})
    await hass.async_block_till_done()
    expected = {f"automation.{name}" for name in names}
    usable = {state.entity_id for state in hass.states.async_all(AUTOMATION) if state.state == "on"}
    assert usable == expected
    assert set(automations_with_device(hass, inverter)) == expected
    # What the device's page shows.
    assert await async_setup_component(hass, SEARCH, {})
    client = await hass_ws_client(hass)
    await client.send_json_auto_id({"type": "search/related", "item_type": "device", "item_id": inverter})
    answer = await client.receive_json()
    assert set(answer["result"][AUTOMATION]) == expected
    await hass.services.async_call(AUTOMATION, "turn_off", {"entity_id": "all"}, blocking=True)
