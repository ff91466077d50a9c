"""Readings of more than a number in a register, as Home Assistant shows them, from registers served over real TCP."""

import pytest
from homeassistant.const import STATE_OFF, STATE_UNKNOWN
from homeassistant.core import HomeAssistant, State

from tests.bench.plain import plain_device
from tests.calls import find_entity
from tests.conftest import AddInverter
from tests.plain_map import SERIAL, add_plain

MAP = """\
readings:
  battery_power: {input: 1, direction: {input: 2, charging: 1, discharging: 2}}
  grid_power: {sum: [{input: 3, type: s16}, {input: 4, type: s16, invalid: [0x7FFF]}], positive: exporting}
  mains: {input: 5, bit: 3, labels: {0: Lost, 1: There}, name: Mains}
  relay: {input: 5, bit: 0, name: Relay}
"""

pytestmark = pytest.mark.usefixtures("socket_enabled")


@pytest.fixture
def hass_config_dir(hass_tmp_config_dir: str) -> str:
    return hass_tmp_config_dir


def shown(hass: HomeAssistant, key: str, platform: str = "sensor") -> State:
    found = find_entity(hass, platform, key, SERIAL)
    assert found is not None, key
    state = hass.states.get(found)
    assert state is not None
    return state


async def test_what_they_show(hass: HomeAssistant, add_inverter: AddInverter) -> None:
    async with plain_device(inputs={1: 1500, 2: 1, 3: 700, 4: 0x10000 - 200, 5: 0b1000}) as device:
        entry = await add_plain(hass, add_inverter, MAP, device)
        assert (shown(hass, "battery_power").state, shown(hass, "battery_power").attributes["direction"]) == (
            "-1500",
            "charging",
        )
        assert (shown(hass, "grid_power").state, shown(hass, "grid_power").attributes["direction"]) == (
            "-500",
            "exporting",
        )
        assert shown(hass, "mains").state == "There"
        assert shown(hass, "relay", "binary_sensor").state == STATE_OFF
        assert find_entity(hass, "binary_sensor", "mains", SERIAL) is None

        # Only the register of the direction changes, and one of the summands has no value any more.
        device.registers["input"] |= {2: 2, 4: 0x7FFF, 5: 0}
        await entry.runtime_data.async_refresh()
        await hass.async_block_till_done()
        assert shown(hass, "battery_power").state == "1500"
        assert shown(hass, "grid_power").state == STATE_UNKNOWN
        assert shown(hass, "mains").state == "Lost"

        device.registers["input"] |= {2: 9}
        await entry.runtime_data.async_refresh()
        await hass.async_block_till_done()
        assert shown(hass, "battery_power").state == STATE_UNKNOWN
