"""What actions are given where a number belongs: taken when there is no doubt about it, else refused in words, and nothing is sent."""

from collections.abc import AsyncIterator
from typing import Any

import pytest
import voluptuous as vol
from homeassistant.core import HomeAssistant
from homeassistant.exceptions import ServiceValidationError
from pytest_homeassistant_custom_component.common import MockConfigEntry

from tests.bench.plain import HOLDING, Plain, plain_device
from tests.calls import act
from tests.conftest import AddInverter
from tests.plain_map import add_plain

MAP = """\
line: {timeout_ms: 300, settle_ms: 0}
readings:
  battery_level: {input: 100, unit: "%"}
schedule:
  charge:
    count: 2
    holding: 60
    stride: 4
    fields:
      start: {at: 0, layout: packed}
      end: {at: 1, layout: packed}
      current: {at: 2, scale: 0.1, unit: A, min: 0, max: 100}
      stop_level: {at: 3, unit: "%", min: 10, max: 100}
  discharge:
    windows:
      - start: {holding: 70, layout: packed}
        end: {holding: 71, layout: packed}
"""
HELD = dict(enumerate([0x0100, 0x0500, 400, 90, 0, 0, 0, 0, 0, 0, 0x1100, 0x1300], start=60))
NIGHT = {"start": "23:30", "end": "05:15"}

NO_NUMBERS: list[Any] = [
    True,
    False,
    10**400,
    -(10**400),
    10**5000,
    float("inf"),
    float("-inf"),
    float("nan"),
    "inf",
    "nan",
    "1e400",
    "1_000",
    "4,5",
    "40 A",
    "0x28",
    "٤٠",
    "",
    "unknown",
    [40],
    {"value": 40},
]
NUMBERS = [(40, 400), (40.0, 400), ("40", 400), ("40.5", 405), (" 40 ", 400), (40.04, 400), ("+40", 400), (".5", 5)]


@pytest.fixture
def declared() -> frozenset[int]:
    return frozenset(range(60, 72))


@pytest.fixture
def hass_config_dir(hass_tmp_config_dir: str) -> str:
    return hass_tmp_config_dir


@pytest.fixture
async def device(socket_enabled: None) -> AsyncIterator[Plain]:
    async with plain_device(holding=HELD, inputs={100: 50}) as running:
        yield running


@pytest.fixture
async def plain(hass: HomeAssistant, device: Plain, add_inverter: AddInverter) -> MockConfigEntry:
    return await add_plain(hass, add_inverter, MAP, device)


async def refused(hass: HomeAssistant, entry: MockConfigEntry, device: Plain, **asked: Any) -> str:
    """What `apply_schedule` is refused with; nothing was written, and it stands in the schedule's status."""
    with pytest.raises(ServiceValidationError) as fault:
        await act(hass, entry, "apply_schedule", **asked)
    assert device.written == []
    assert fault.value.translation_key == "schedule_rejected"
    text = str(fault.value)
    assert len(text) < 1000
    failure = entry.runtime_data.monitor.last_failure
    assert failure is not None
    assert failure.text == text
    return text


@pytest.mark.parametrize("limit", ["current", "stop_level"])
async def test_a_limit_that_is_no_number_is_refused(
    hass: HomeAssistant, plain: MockConfigEntry, device: Plain, limit: str
) -> None:
    for value in NO_NUMBERS:
        window = NIGHT | {"current": 40, "stop_level": 80} | {limit: value}
        text = await refused(hass, plain, device, charge=[window])
        assert f"charge window 1 {limit.replace('_', ' ')}" in text
        assert "is not a number" in text
        assert text.count(";") == 0, "one mistake is reported once"


async def test_a_limit_that_is_a_number_is_taken(hass: HomeAssistant, plain: MockConfigEntry, device: Plain) -> None:
    for value, raw in NUMBERS:
        await act(hass, plain, "apply_schedule", charge=[NIGHT | {"current": 50, "stop_level": 80}])
        await act(hass, plain, "apply_schedule", charge=[NIGHT | {"current": value, "stop_level": 80}])
        assert device.registers[HOLDING][62] == raw


@pytest.mark.parametrize("side", ["charge", "discharge"])
async def test_nothing_where_windows_belong_does_not_clear_them(
    hass: HomeAssistant, plain: MockConfigEntry, device: Plain, side: str
) -> None:
    """A template that finds nothing gives null."""
    text = await refused(hass, plain, device, **{side: None})
    assert f"{side} is empty (null)" in text
    assert f"Leave {side} out" in text
    assert "[]" in text
    assert device.registers[HOLDING] == HELD


async def test_an_empty_list_clears_a_side_and_what_is_left_out_stays(
    hass: HomeAssistant, plain: MockConfigEntry, device: Plain
) -> None:
    await act(hass, plain, "apply_schedule", charge=[])
    assert [device.registers[HOLDING][at] for at in (60, 61, 70, 71)] == [0, 0, 0x1100, 0x1300]


@pytest.mark.parametrize("limit", ["current", "stop_level"])
async def test_nothing_where_a_limit_belongs_is_no_limit_left_out(
    hass: HomeAssistant, plain: MockConfigEntry, device: Plain, limit: str
) -> None:
    text = await refused(hass, plain, device, charge=[NIGHT | {"current": 40, "stop_level": 80} | {limit: None}])
    assert f"charge window 1 {limit.replace('_', ' ')} is empty (null)" in text
    assert "leave it out" in text


@pytest.mark.parametrize("time", ["start", "end"])
async def test_nothing_where_a_time_belongs_is_refused(
    hass: HomeAssistant, plain: MockConfigEntry, device: Plain, time: str
) -> None:
    text = await refused(hass, plain, device, charge=[NIGHT | {"current": 40, "stop_level": 80} | {time: None}])
    assert f"charge window 1 {time}" in text


async def test_all_of_it_is_told_at_once(hass: HomeAssistant, plain: MockConfigEntry, device: Plain) -> None:
    windows = [
        {"start": "25:00", "end": "05:15", "current": True, "stop_level": None},
        {"start": "06:00", "end": "07:00", "current": 400, "stop_level": "much"},
    ]
    text = await refused(hass, plain, device, charge=windows, discharge=None)
    for what in (
        "discharge is empty",
        "charge window 1 start 25:00",
        "charge window 1 current True",
        "charge window 1 stop level is empty",
        "charge window 2 current 400",
        "charge window 2 stop level 'much'",
    ):
        assert what in text
    assert text.count(";") >= 5


@pytest.mark.parametrize("field", ["hours", "solar_kwh", "load_kwh", "reserve_level", "highest_level"])
async def test_a_plan_is_not_made_with_what_is_no_number(
    hass: HomeAssistant, plain: MockConfigEntry, field: str
) -> None:
    for value in (*NO_NUMBERS, None):
        with pytest.raises(vol.Invalid, match="is not a number") as fault:
            await act(hass, plain, "plan_charge", **{field: value})
        assert field in str(fault.value)
        assert len(str(fault.value)) < 300


@pytest.mark.parametrize("field", ["buy", "sell"])
async def test_a_plan_is_not_made_with_a_price_that_is_no_number(
    hass: HomeAssistant, plain: MockConfigEntry, field: str
) -> None:
    for value in (*NO_NUMBERS, None):
        price = {"start": "2026-01-10 00:00", "end": "2026-01-12 00:00", "buy": 0.3, "sell": 0.1} | {field: value}
        with pytest.raises(vol.Invalid, match="is not a number"):
            await act(hass, plain, "plan_charge", prices=[price])


@pytest.mark.parametrize("field", ["first", "count"])
@pytest.mark.parametrize("action", ["read_registers", "compare_registers"])
async def test_a_search_is_not_made_with_what_is_no_whole_number(
    hass: HomeAssistant, plain: MockConfigEntry, device: Plain, action: str, field: str
) -> None:
    await plain.runtime_data.async_shutdown()
    device.requests.clear()
    for value in (*NO_NUMBERS, None, 1.5, "1.5", 2**60):
        asked = {"table": "holding", "first": 60, "count": 2, "snapshot": {}} | {field: value}
        if action == "read_registers":
            del asked["snapshot"]
        with pytest.raises(vol.Invalid, match="is not a whole number") as fault:
            await act(hass, plain, action, **asked)
        assert field in str(fault.value)
        assert len(str(fault.value)) < 300
    assert device.requests == []


@pytest.mark.parametrize("value", [60, "60", 60.0])
async def test_a_search_takes_what_is_a_whole_number(hass: HomeAssistant, plain: MockConfigEntry, value: Any) -> None:
    answer = await act(hass, plain, "read_registers", table="holding", first=value, count=1)
    assert answer["registers"] == {"60": 0x0100}


@pytest.mark.parametrize(
    "changed",
    [
        {"first": 10**5000},
        {"count": 10**5000},
        {"registers": {"9" * 5000: 1}},
        {"registers": {"60": 10**5000}},
        {"registers": {10**5000: 1}},
    ],
    ids=["first", "count", "long key", "value", "key"],
)
async def test_a_snapshot_of_endless_numbers_is_told(
    hass: HomeAssistant, plain: MockConfigEntry, changed: dict[str, Any]
) -> None:
    answer = await act(hass, plain, "read_registers", table="holding", first=60, count=2)
    with pytest.raises(ServiceValidationError) as fault:
        await act(hass, plain, "compare_registers", table="holding", first=60, count=2, snapshot=answer | changed)
    assert fault.value.translation_key == "snapshot_no_answer"
    assert len(str(fault.value)) < 400
