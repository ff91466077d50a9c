"""Bounds hold for what is written, not for what was asked: rounding to the register's step never leaves them."""

from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from homeassistant.core import HomeAssistant
from homeassistant.exceptions import HomeAssistantError, ServiceValidationError
from hypothesis import given
from hypothesis import strategies as st

from custom_components.chargehand.core.registers import MapInvalid, Point, Table, ValueRefused, load_map
from custom_components.chargehand.core.schedule.request import ScheduleRequest, WindowRequest
from custom_components.chargehand.core.schedule.stages import NotSafely
from tests.bench.plain import HOLDING, plain_device
from tests.calls import act, apply_draft, entity_id
from tests.conftest import AddInverter
from tests.plain_map import SERIAL, add_plain, plain_inverter, write_map

LINE = "line: {timeout_ms: 300, settle_ms: 0}\n"
READINGS = """\
readings:
  battery_level: {input: 100, unit: "%"}
  battery_voltage: {input: 101, unit: V}
  battery_charge_current_limit: {input: 102, unit: A}
"""

pytestmark = pytest.mark.usefixtures("socket_enabled")


@pytest.fixture
def declared() -> frozenset[int]:
    return frozenset(range(30, 70))


@pytest.fixture
def hass_config_dir(hass_tmp_config_dir: str) -> str:
    return hass_tmp_config_dir


def controls(control: str) -> str:
    return f"{LINE}{READINGS}controls:\n  feed: {{holding: 30, name: Feed, {control}}}\n"


BOUNDS = [
    # scale 0.7: 142 steps are 99.4, 143 are 100.1.
    ("scale: 0.7, min: 0, max: 100", 100, 142, 99.4),
    ("scale: 0.7, min: 1, max: 100", 1, 2, 1.4),
    ("scale: 0.7, offset: 0.3, min: 0.9, max: 100", 0.9, 1, 1.0),
    ("scale: 0.7, min: 0, max: 100", 50, 71, 49.7),
    ("scale: -0.7, type: s16, min: 0, max: 100", 100, -142, 99.4),
    ("scale: 3, min: 10, max: 20", 10, 4, 12),
    ("scale: 3, min: 10, max: 20", 20, 6, 18),
    # The map's own step, counted from the minimum.
    ("min: 0, max: 100, step: 5", 12, 10, 10),
    ("min: 0, max: 100, step: 5", 13, 15, 15),
    ("min: 1, max: 100, step: 5", 100, 96, 96),
    ("min: 1, max: 100, step: 5", 11, 11, 11),
    ("type: s16, step: 5", -12, -10, -10),
    ("scale: 0.1, min: 0, max: 100, step: 0.5", 7.3, 75, 7.5),
    # What rounds into the bounds was meant to be in them.
    ("scale: 0.1, min: 0, max: 100", 100.04, 1000, 100),
]


@pytest.mark.parametrize(("control", "asked", "raw", "shown"), BOUNDS)
async def test_a_control_is_set_to_the_nearest_value_within_its_bounds(
    tmp_path: Path, control: str, asked: float, raw: int, shown: float
) -> None:
    async with (
        plain_device(holding={30: 7}, inputs={100: 50}) as device,
        plain_inverter(tmp_path, controls(control), device) as inverter,
    ):
        assert await inverter.set_control("feed", asked) == shown
        assert device.written == [(30, (raw & 0xFFFF,))]


@pytest.mark.parametrize(
    ("control", "asked"),
    [
        ("scale: 0.7, min: 0, max: 100", 100.1),
        ("scale: 0.7, min: 0, max: 100", 101),
        ("scale: 0.7, min: 1, max: 100", 0.9),
        ("min: 0, max: 100, step: 5", 103),
        ("min: 0, max: 100", -1),
        ("min: 0, max: 100", float("nan")),
        ("min: 0, max: 100", float("inf")),
        ("min: 0, max: 100", 10**400),
        ("min: 0, max: 100", True),
        ("type: f32, min: 0, max: 100", 1e39),
    ],
)
async def test_a_value_beyond_the_bounds_is_refused(tmp_path: Path, control: str, asked: float) -> None:
    async with (
        plain_device(holding={30: 7, 31: 0}, inputs={100: 50}) as device,
        plain_inverter(tmp_path, controls(control), device) as inverter,
    ):
        with pytest.raises(ValueRefused, match="not_in_range"):
            await inverter.set_control("feed", asked)
        assert device.written == []


async def test_a_single_is_kept_within_its_bounds(tmp_path: Path) -> None:
    """Above 2^24 singles are 2 apart: 16777217 is none, and would be rounded to 16777216 (IEEE 754-2008, binary32)."""
    text = controls("type: f32, min: 16777217, max: 16777220")
    async with (
        plain_device(holding={30: 7, 31: 0}, inputs={100: 50}) as device,
        plain_inverter(tmp_path, text, device) as inverter,
    ):
        assert await inverter.set_control("feed", 16777217) == 16777218
        assert device.written == [(30, (0x4B80, 0x0001))]


@given(
    scale=st.decimals("-5", "5", places=2).filter(bool),
    offset=st.decimals("-50", "50", places=1),
    ends=st.tuples(st.floats(0, 1), st.floats(0, 1)),
    asked=st.floats(-0.2, 1.2),
)
def test_no_value_within_the_bounds_is_nearer(
    scale: Decimal, offset: Decimal, ends: tuple[float, float], asked: float
) -> None:
    """Judged by trying every value that the eight bits can hold. Bounds and value are shares of what they hold."""
    point = Point(table=Table.HOLDING, first=1, bits=(0, 7), scale=scale, offset=offset)
    every = sorted(float(raw * scale + offset) for raw in range(256))
    low, high = (every[0] + end * (every[-1] - every[0]) for end in sorted(ends))
    value = every[0] + asked * (every[-1] - every[0])
    within = [one for one in every if low <= one <= high]
    near = point.nearest(value, low, high)
    assert near is None or near in within
    if low <= value <= high and within:
        assert near is not None
        assert abs(near - value) <= min(abs(one - value) for one in within) + 1e-9
    elif near is not None:
        assert abs(near - value) <= min(abs(one - value) for one in every) + 1e-9


async def test_a_power_of_ten_of_another_register_is_part_of_the_step(tmp_path: Path) -> None:
    text = controls("scale_at: {input: 5}, min: 0, max: 1250")
    async with (
        plain_device(holding={30: 7}, inputs={5: 2, 100: 50}) as device,
        plain_inverter(tmp_path, text, device) as inverter,
    ):
        assert await inverter.set_control("feed", 1250) == 1200
        assert device.written == [(30, (12,))]


@pytest.mark.parametrize(
    "bounds", ["scale: 7, min: 1, max: 6", "scale: 10, offset: -5, type: s16, min: 6, max: 14", "min: 0.2, max: 0.8"]
)
@pytest.mark.parametrize("where", ["control", "limit"])
def test_bounds_with_nothing_in_them_are_a_mistake_in_the_map(tmp_path: Path, bounds: str, where: str) -> None:
    at = {"control": "controls.feed", "limit": "schedule.charge.windows[0].power"}[where]
    text = {"control": controls(bounds), "limit": LINE + READINGS + schedule(f"power: {{holding: 62, {bounds}}}")}
    with pytest.raises(MapInvalid) as refused:
        load_map(write_map(tmp_path, text[where]))
    (problem,) = refused.value.problems
    assert problem.key == f"{at}.min"
    assert "no value" in str(problem)


def test_a_value_that_arms_but_can_never_be_read_is_a_mistake_in_the_map(tmp_path: Path) -> None:
    text = controls("scale: 0.7, min: 0, max: 100") + schedule("current: {holding: 62}").replace(
        "schedule:", "schedule:\n  armed_by: {control: feed, value: 50}"
    )
    with pytest.raises(MapInvalid) as refused:
        load_map(write_map(tmp_path, text))
    (problem,) = refused.value.problems
    assert problem.key == "schedule.armed_by.value"
    assert "49.7" in str(problem)


def schedule(limit: str) -> str:
    return (
        "schedule:\n  charge:\n    windows:\n"
        f"      - {{start: {{holding: 60, layout: packed}}, end: {{holding: 61, layout: packed}}, {limit}}}\n"
    )


def in_limits(text: str) -> str:
    return LINE + READINGS + schedule(text)


async def applied(
    hass: HomeAssistant, add_inverter: AddInverter, text: str, **window: Any
) -> tuple[dict[str, Any], int]:
    """Apply one window through the action. Return the receipt and the limit's register."""
    async with plain_device(holding=dict.fromkeys(range(60, 64), 0), inputs={100: 50, 101: 50, 102: 1000}) as device:
        entry = await add_plain(hass, add_inverter, text, device)
        receipt = await act(hass, entry, "apply_schedule", charge=[{"start": "01:00", "end": "05:00", **window}])
        return receipt, device.registers[HOLDING][62]


@pytest.mark.parametrize(
    ("limit", "asked", "raw", "rounded_to"),
    [
        ("current: {holding: 62, scale: 0.7, min: 0, max: 100}", {"current": 100}, 142, "99.4 A"),
        ("current: {holding: 62, scale: 0.7, min: 1, max: 100}", {"current": 1}, 2, "1.4 A"),
        ("stop_level: {holding: 62, scale: 3, min: 10, max: 100}", {"stop_level": 10}, 4, "12 %"),
        ("power: {holding: 62, scale: 0.3, unit: kW, min: 0, max: 5}", {"power": 5000}, 16, "4800 W"),
        # 5000 W at 50 V.
        ("current: {holding: 62, scale: 0.7, min: 0, max: 100}", {"power": 5000}, 142, "99.4 A"),
    ],
)
async def test_a_windows_limit_is_the_nearest_value_within_its_bounds(
    hass: HomeAssistant,
    add_inverter: AddInverter,
    limit: str,
    asked: dict[str, float],
    raw: int,
    rounded_to: str,
) -> None:
    receipt, held = await applied(hass, add_inverter, in_limits(limit), **asked)
    assert held == raw
    (rounded,) = [one for one in receipt["adjusted"] if one["why"] == "rounded"]
    assert rounded["applied"] == rounded_to


async def test_a_windows_limit_beyond_its_bounds_is_refused(hass: HomeAssistant, add_inverter: AddInverter) -> None:
    text = in_limits("current: {holding: 62, scale: 0.7, min: 0, max: 100}")
    with pytest.raises(ServiceValidationError, match=r"current 100\.1 A is outside this"):
        await applied(hass, add_inverter, text, current=100.1)


async def test_a_windows_entity_is_set_within_its_bounds(hass: HomeAssistant, add_inverter: AddInverter) -> None:
    text = in_limits("current: {holding: 62, scale: 0.7, min: 0, max: 100}")
    held = {60: 0x0100, 61: 0x0500, 62: 71, 63: 0}
    async with plain_device(holding=held, inputs={100: 50, 101: 50, 102: 1000}) as device:
        await add_plain(hass, add_inverter, text, device)
        number = entity_id(hass, "number", "charge_window_1_current", SERIAL)
        await hass.services.async_call("number", "set_value", {"entity_id": number, "value": 100}, blocking=True)
        assert device.written == []
        await apply_draft(hass, SERIAL)
        assert device.written == [(62, (142,))]
        shown = hass.states.get(number)
        assert shown is not None
        assert float(shown.state) == 99.4
        with pytest.raises(HomeAssistantError):
            await hass.services.async_call(
                "number", "set_value", {"entity_id": number, "value": float("nan")}, blocking=True
            )
        assert len(device.written) == 1


async def test_the_batterys_own_limit_is_not_rounded_past(hass: HomeAssistant, add_inverter: AddInverter) -> None:
    """The battery takes 40 A; with 0.7 A a step, counted from 0.3 A, that is 39.5 A and not 40.2 A."""
    text = in_limits("current: {holding: 62, scale: 0.7, offset: 0.3, min: 1, max: 100}")
    async with plain_device(holding=dict.fromkeys(range(60, 64), 0), inputs={100: 50, 101: 50, 102: 40}) as device:
        entry = await add_plain(hass, add_inverter, text, device)
        window = {"start": "01:00", "end": "05:00", "current": 80}
        receipt = await act(hass, entry, "apply_schedule", charge=[window])
        assert device.registers[HOLDING][62] == 56
        assert receipt["adjusted"][-1]["applied"] == "39.5 A"
        assert receipt["adjusted"][-1]["why"] == "battery_limit"


APART = """\
schedule:
  charge:
    windows:
      - {start: {holding: 60, layout: packed}, end: {holding: 64, layout: packed}, current: {holding: 68, LIMIT}}
"""


@pytest.mark.parametrize(
    ("limit", "raws"),
    [("scale: 0.1, min: 0, max: 100", [0, 400]), ("scale: 0.1, offset: -5, min: 0, max: 100", [50, 450])],
)
async def test_a_window_is_kept_from_acting_by_a_limit_of_0(tmp_path: Path, limit: str, raws: list[int]) -> None:
    """Its times are too far apart for one request, so they are changed while its limit is 0."""
    text = LINE + READINGS + APART.replace("LIMIT", limit)
    held = {60: 0x0100, 64: 0x0500, 68: raws[1]} | {at: 0 for at in range(61, 68) if at != 64}
    async with (
        plain_device(holding=held, inputs={100: 50, 101: 50, 102: 100}) as device,
        plain_inverter(tmp_path, text, device) as inverter,
    ):
        window = WindowRequest(start="02:00", end="06:00", current=40)
        await inverter.apply(ScheduleRequest(charge=[window]))
        assert device.written == [(68, (raws[0],)), (60, (0x0200,)), (64, (0x0600,)), (68, (raws[1],))]


@pytest.mark.parametrize(
    "limit", ["type: s16, scale: 0.1, offset: 0.05, min: 0, max: 100", "scale: 0.1, min: -10, max: -1, type: s16"]
)
async def test_a_limit_that_cannot_be_0_keeps_no_window_from_acting(tmp_path: Path, limit: str) -> None:
    text = LINE + READINGS + APART.replace("LIMIT", limit)
    held = dict.fromkeys(range(60, 69), 0) | {60: 0x0100, 64: 0x0500, 68: 0xFFFF - 50 if "max: -1," in limit else 400}
    async with (
        plain_device(holding=held, inputs={100: 50, 101: 50, 102: 100}) as device,
        plain_inverter(tmp_path, text, device) as inverter,
    ):
        with pytest.raises(NotSafely):
            await inverter.apply(ScheduleRequest(charge=[WindowRequest(start="02:00", end="06:00")]))
        assert device.written == []


@pytest.mark.parametrize("value", ["type: s16, scale_at: {holding: 30}", "type: s32, scale_at: {holding: 31}"])
def test_a_power_of_ten_that_lies_in_the_value_itself_is_a_mistake_in_the_map(tmp_path: Path, value: str) -> None:
    with pytest.raises(MapInvalid) as refused:
        load_map(write_map(tmp_path, controls(f"{value}, min: 0, max: 9")))
    (problem,) = refused.value.problems
    assert problem.key == "controls.feed.scale_at"
