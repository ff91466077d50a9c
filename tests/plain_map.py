"""Small register maps of a test's own, an inverter on them, and the same in Home Assistant."""

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

from homeassistant.core import HomeAssistant
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components.chargehand.core.inverter.inverter import Inverter
from custom_components.chargehand.core.modbus import Endpoint, Framing, Gateway
from custom_components.chargehand.core.registers import load_map
from tests.bench.plain import Plain
from tests.conftest import AddInverter
from tests.core.schedule.quick_inverter import PATIENCE, make_inverter

HEAD = """\
chargehand_map: 1
title: Plain
maker: Nobody
model: Nothing
source: invented for this test
"""

SERIAL = "P1-AM-2611-0001"


def write_map(folder: Path, text: str) -> Path:
    """Write the map `text` into a folder, under a head."""
    folder.mkdir(exist_ok=True)
    path = folder / "plain.yaml"
    path.write_text(HEAD + text)
    return path


@asynccontextmanager
async def plain_inverter(folder: Path, text: str, device: Plain) -> AsyncIterator[Inverter]:
    """An inverter of the map `text`, on the device over a line of its own."""
    path = write_map(folder, text)
    gateway = Gateway(Endpoint(host="127.0.0.1", port=device.port, framing=Framing.TCP))
    try:
        yield make_inverter(load_map(path), gateway, None)
    finally:
        gateway.close()


async def add_plain(
    hass: HomeAssistant, add_inverter: AddInverter, text: str, device: Plain, **options: object
) -> MockConfigEntry:
    """Add the device to Home Assistant with the map `text`, in little patience. The test's module has a `hass_config_dir` of its own."""
    assert "testing_config" not in hass.config.config_dir, "all tests share that folder"
    write_map(Path(hass.config.path("chargehand")), text)
    entry = await add_inverter(device.port, unique_id=SERIAL, register_map="plain", **options)
    entry.runtime_data.inverter.commit_rules.patience = PATIENCE
    return entry
