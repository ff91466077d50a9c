"""What somebody else makes of a slot and Chargehand never would: another use, or fewer days. It is told, and never taken for a window of ours."""

import pytest
from homeassistant.core import HomeAssistant
from homeassistant.exceptions import ServiceValidationError
from pytest_homeassistant_custom_component.common import MockConfigEntry

from tests.bench.plain import HOLDING, Plain, plain_device
from tests.calls import act, find_entity
from tests.conftest import AddInverter
from tests.plain_map import SERIAL, add_plain

FIELDS = """
    count: 1
    holding: {first}
    stride: 6
    fields:
      mode: {{at: 0, charge: 1, discharge: 2, hold: 3, none: 0}}
      days: {{at: 1, bits: [0, 6]}}
      start: {{at: 2, layout: minutes}}
      duration: {{at: 3, layout: minutes}}
      power: {{at: 4, min: 100, max: 5000}}
      stop_level: {{at: 5, scale: 0.1, min: 10, max: 100}}
"""
MAP = f"""\
line: {{timeout_ms: 300, settle_ms: 0}}
readings:
  battery_level: {{input: 100, unit: "%"}}
schedule:
  poll: fast
  charge:{FIELDS.format(first=30)}
  discharge:{FIELDS.format(first=36)}
"""
NIGHT = (1, 0x7F, 60, 240, 3000, 900)
"""Charging from 01:00 for four hours, every day."""
UNUSED = (0, 0, 0, 0, 2000, 200)

pytestmark = pytest.mark.usefixtures("socket_enabled")


@pytest.fixture
def declared() -> frozenset[int]:
    return frozenset(range(30, 42))


@pytest.fixture
def hass_config_dir(hass_tmp_config_dir: str) -> str:
    return hass_tmp_config_dir


def put(device: Plain, first: int, slot: tuple[int, ...]) -> None:
    device.registers[HOLDING] |= dict(enumerate(slot, first))


async def added(hass: HomeAssistant, add_inverter: AddInverter, device: Plain) -> MockConfigEntry:
    """The inverter, whose night was confirmed by a change of ours."""
    put(device, 30, UNUSED)
    put(device, 36, UNUSED)
    entry = await add_plain(hass, add_inverter, MAP, device)
    night = {"start": "01:00", "end": "05:00", "power": 3000, "stop_level": 90}
    receipt = await act(hass, entry, "apply_schedule", charge=[night])
    assert receipt["outcome"] == "confirmed"
    assert tuple(device.registers[HOLDING][at] for at in range(30, 36)) == NIGHT
    return entry


async def read_anew(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    """Let it read twice: what is found once may be a change under way."""
    for _ in range(2):
        await entry.runtime_data.async_refresh()
        await hass.async_block_till_done()


def switch(hass: HomeAssistant, side: str) -> tuple[str, object, object]:
    entity_id = find_entity(hass, "switch", f"{side}_window_1_active", SERIAL)
    assert entity_id is not None
    state = hass.states.get(entity_id)
    assert state is not None
    return state.state, state.attributes.get("used_for"), state.attributes.get("days")


def status(hass: HomeAssistant) -> str:
    entity_id = find_entity(hass, "sensor", "schedule_status", SERIAL)
    assert entity_id is not None
    state = hass.states.get(entity_id)
    assert state is not None
    return state.state


async def test_a_slot_that_holds_is_changed_elsewhere_and_no_charge_window(
    hass: HomeAssistant, add_inverter: AddInverter
) -> None:
    async with plain_device(inputs={100: 50}) as device:
        entry = await added(hass, add_inverter, device)
        assert switch(hass, "charge") == ("on", None, None)
        put(device, 30, (3, 0x7F, 1020, 180, 3000, 500))
        await read_anew(hass, entry)
        assert status(hass) == "changed_elsewhere"
        assert switch(hass, "charge") == ("off", "hold", None)
        schedule = await act(hass, entry, "get_schedule")
        assert schedule["charge"] == []
        held = {"used_for": "hold", "start": "17:00", "end": "20:00"}
        assert schedule["set_elsewhere"] == {"charge_window_1": held}
        evening = {"start": "19:00", "end": "21:00", "power": 2000, "stop_level": 20}
        with pytest.raises(ServiceValidationError, match=r"used for something else \(holding\)"):
            await act(hass, entry, "apply_schedule", discharge=[evening])
        written = len(device.written)
        receipt = await act(hass, entry, "restore_schedule", which="confirmed")
        assert receipt["outcome"] == "confirmed"
        assert len(device.written) > written
        assert tuple(device.registers[HOLDING][at] for at in range(30, 36)) == NIGHT
        assert status(hass) == "confirmed"


async def test_a_window_of_fewer_days_is_told_with_its_days(hass: HomeAssistant, add_inverter: AddInverter) -> None:
    async with plain_device(inputs={100: 50}) as device:
        entry = await added(hass, add_inverter, device)
        put(device, 30, (1, 0b1100000, 60, 240, 3000, 900))
        await read_anew(hass, entry)
        assert status(hass) == "changed_elsewhere"
        assert switch(hass, "charge") == ("on", None, ["saturday", "sunday"])
        schedule = await act(hass, entry, "get_schedule")
        assert schedule["set_elsewhere"]["charge_window_1"]["days"] == ["saturday", "sunday"]
        receipt = await act(hass, entry, "apply_schedule", charge=schedule["charge"])
        assert [(one["what"], one["was"], one["now"]) for one in receipt["changes"]] == [
            ("charge_window_1_days", "saturday,sunday", "every_day")
        ]
        assert tuple(device.registers[HOLDING][at] for at in range(30, 36)) == NIGHT
