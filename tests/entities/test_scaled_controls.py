"""Values kept with a power of ten of another register: that one is read with them, and never written."""

from pathlib import Path

import pytest
from homeassistant.core import HomeAssistant
from homeassistant.exceptions import HomeAssistantError

from custom_components.chargehand.core.schedule.commit import Uncertain
from custom_components.chargehand.core.schedule.frames import Frame
from tests.bench.plain import HOLDING, INPUT, Request, plain_device
from tests.calls import act, entity_id
from tests.conftest import AddInverter
from tests.plain_map import SERIAL, add_plain, plain_inverter

CONTROLS = """\
line: {timeout_ms: 300, settle_ms: 0}
readings:
  battery_level: {input: 100, unit: "%"}
controls:
  feed_limit: {holding: 30, scale_at: {holding: 31}, unit: W, min: 0, max: 5000, name: Feed limit}
  heat_limit: {holding: 32, scale_at: {input: 5}, unit: W, min: 0, max: 5000, name: Heat limit}
"""

SCHEDULE = """\
line: {timeout_ms: 300, settle_ms: 0}
readings:
  battery_level: {input: 100, unit: "%"}
controls:
  work_share: {holding: 50, scale_at: {TABLE: 53}, min: 0, max: 3000, name: Work share}
schedule:
  armed_by: {control: work_share, value: 2000}
  charge:
    windows:
      - start: {holding: 51, layout: packed}
        end: {holding: 52, layout: packed}
        current: {holding: 54, scale: 0.1, unit: A, min: 0, max: 100}
"""
"""The power of ten lies between the windows' registers, in the holding table or by its number alone."""

WRITABLE = frozenset({30, 32, 50, 51, 52, 54})
NIGHT = [{"start": "22:40", "end": "02:20", "current": 40}]
NIGHT_HELD = {51: 0x1628, 52: 0x0214, 54: 400}


@pytest.fixture
def declared() -> frozenset[int]:
    return WRITABLE


@pytest.fixture
def hass_config_dir(hass_tmp_config_dir: str) -> str:
    return hass_tmp_config_dir


async def set_number(hass: HomeAssistant, key: str, value: float) -> float:
    """Set a control as a dashboard does. Return what is shown then."""
    number = entity_id(hass, "number", key, SERIAL)
    await hass.services.async_call("number", "set_value", {"entity_id": number, "value": value}, blocking=True)
    shown = hass.states.get(number)
    assert shown is not None
    return float(shown.state)


@pytest.mark.usefixtures("socket_enabled")
@pytest.mark.parametrize(("key", "register"), [("feed_limit", 30), ("heat_limit", 32)])
async def test_a_control_is_set_by_its_power_of_ten_which_stays(
    hass: HomeAssistant, add_inverter: AddInverter, key: str, register: int
) -> None:
    async with plain_device(holding={30: 0, 31: 1, 32: 0}, inputs={5: 2, 100: 50}) as device:
        await add_plain(hass, add_inverter, CONTROLS, device)
        assert await set_number(hass, key, 1200) == 1200
        assert device.written == [(register, (120 if key == "feed_limit" else 12,))]
        assert device.registers[HOLDING][31] == 1


@pytest.mark.usefixtures("socket_enabled")
@pytest.mark.parametrize("table", [HOLDING, INPUT])
async def test_a_schedule_is_applied_around_a_power_of_ten_that_is_not_its_own(
    hass: HomeAssistant, add_inverter: AddInverter, table: str
) -> None:
    held = {50: 0, 51: 0, 52: 0, 53: 77, 54: 0}
    held |= {53: 2} if table == HOLDING else {}
    async with plain_device(holding=held, inputs={53: 2, 100: 50}) as device:
        entry = await add_plain(hass, add_inverter, SCHEDULE.replace("TABLE", table), device)
        assert (await act(hass, entry, "get_schedule"))["armed"] is False
        receipt = await act(hass, entry, "apply_schedule", charge=NIGHT)
        assert receipt["outcome"] == "confirmed"
        assert {"what": "armed", "was": False, "now": True} in receipt["changes"]
        assert {at: device.registers[HOLDING][at] for at in NIGHT_HELD} == NIGHT_HELD
        assert device.registers[HOLDING][50] == 20, "2000 by hundreds"
        assert device.registers[HOLDING][53] == held[53]
        assert all(not request.touches(HOLDING, 53) for request in device.requests if request.writes)
        assert (await act(hass, entry, "get_schedule"))["armed"] is True
        assert (await act(hass, entry, "apply_schedule", charge=NIGHT))["outcome"] == "unchanged"
        assert (await act(hass, entry, "restore_schedule"))["outcome"] == "confirmed"
        assert device.registers[HOLDING][50] == 0
        assert device.registers[HOLDING][53] == held[53]


@pytest.mark.usefixtures("socket_enabled")
async def test_setting_what_arms_keeps_the_schedule_confirmed_whatever_its_power_of_ten_was(
    hass: HomeAssistant, add_inverter: AddInverter
) -> None:
    held = dict.fromkeys(range(50, 55), 0)
    async with plain_device(holding=held, inputs={53: 2, 100: 50}) as device:
        entry = await add_plain(hass, add_inverter, SCHEDULE.replace("TABLE", INPUT), device)
        await act(hass, entry, "apply_schedule", charge=NIGHT)
        device.registers[INPUT][53] = 1
        assert await set_number(hass, "work_share", 500) == 500
        assert device.registers[HOLDING][50] == 50
        entry.runtime_data.rates.slow_next()
        await entry.runtime_data.async_refresh()
        assert entry.runtime_data.monitor.state.status == "confirmed"


@pytest.mark.usefixtures("socket_enabled")
@pytest.mark.parametrize(("key", "table", "scale"), [("feed_limit", HOLDING, 31), ("heat_limit", INPUT, 5)])
async def test_a_power_of_ten_that_changes_meanwhile_is_left_alone_and_nothing_is_called_set(
    tmp_path: Path, key: str, table: str, scale: int
) -> None:
    async with plain_device(holding={30: 0, 31: 0, 32: 0}, inputs={5: 0, 100: 50}) as device:

        def ranged(request: Request) -> None:
            if request.writes:
                device.registers[table][scale] = 1

        device.after = ranged
        async with plain_inverter(tmp_path, CONTROLS, device) as inverter:
            with pytest.raises(Uncertain, match="power of ten"):
                await inverter.set_control(key, 300)
        assert device.written == [(30 if key == "feed_limit" else 32, (300,))]
        assert device.registers[table][scale] == 1


@pytest.mark.usefixtures("socket_enabled")
async def test_a_power_of_ten_that_changes_meanwhile_is_named_to_the_user(
    hass: HomeAssistant, add_inverter: AddInverter
) -> None:
    async with plain_device(holding={30: 0, 31: 0, 32: 0}, inputs={5: 0, 100: 50}) as device:
        await add_plain(hass, add_inverter, CONTROLS, device)

        def ranged(request: Request) -> None:
            if request.writes:
                device.registers[HOLDING][31] = 1

        device.after = ranged
        with pytest.raises(HomeAssistantError) as failed:
            await set_number(hass, "feed_limit", 300)
        assert failed.value.translation_key == "value_uncertain"
        placeholders = failed.value.translation_placeholders or {}
        assert placeholders["reason"] == "the power of ten or the rated power of its values changed meanwhile"


@pytest.mark.usefixtures("socket_enabled")
async def test_a_power_of_ten_that_is_not_one_is_told_before_anything_is_written(
    hass: HomeAssistant, add_inverter: AddInverter
) -> None:
    async with plain_device(holding={30: 0, 31: 0x8000, 32: 0}, inputs={5: 2, 100: 50}) as device:
        await add_plain(hass, add_inverter, CONTROLS, device)
        with pytest.raises(HomeAssistantError, match="power of ten"):
            await set_number(hass, "feed_limit", 1200)
        assert device.written == []


@pytest.mark.usefixtures("socket_enabled")
@pytest.mark.parametrize("frame", [Frame(31, (1,)), Frame(30, (1, 1)), Frame(33, (0,)), Frame(29, (0, 1))])
async def test_no_frame_leaves_that_has_a_register_which_the_map_does_not_let_write(
    tmp_path: Path, frame: Frame
) -> None:
    async with plain_device(holding=dict.fromkeys(range(29, 34), 0), inputs={100: 50}) as device:
        async with plain_inverter(tmp_path, CONTROLS, device) as inverter:
            with pytest.raises(ValueError, match="may not be written"):
                await inverter.writer.write(frame)
        assert device.written == []
