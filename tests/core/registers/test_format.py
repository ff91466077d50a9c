"""What the format can say that the bundled map does not, loaded from text and read from raw registers."""

from decimal import Decimal
from pathlib import Path

import pytest
from homeassistant.components.binary_sensor import BinarySensorDeviceClass
from homeassistant.components.sensor import DEVICE_CLASS_UNITS, SensorDeviceClass, SensorStateClass
from hypothesis import given
from hypothesis import strategies as st

from custom_components.chargehand.core.registers import (
    KNOWN_READINGS,
    Address,
    Point,
    Poll,
    Reading,
    RegisterMap,
    Table,
)
from custom_components.chargehand.core.registers.register_map.catalogue import BINARY_CLASSES, SENSOR_CLASSES
from custom_components.chargehand.core.registers.register_map.number_types import NUMBERS

from .samples import HEAD, SAMPLE, load


def reading(folder: Path, row: str, line: str = "line: {}") -> Reading:
    made = load(folder, f"{HEAD}{line}\nreadings:\n  {row}\n")
    return next(iter(made.readings.values()))


def held(*registers: int, first: int = 5) -> dict[Address, int]:
    return {(Table.INPUT, first + index): register for index, register in enumerate(registers)}


@pytest.mark.parametrize(
    ("row", "registers", "value", "unit"),
    [
        ("battery_power: {input: 5, unit: kW, scale: 0.1, type: s16}", (15,), 1500, "W"),
        ("battery_power: {input: 5, unit: kW, type: f32, positive: charging}", (0x3FC0, 0), -1500.0, "W"),
        ("grid_energy_imported: {input: 5, unit: Wh, type: u32}", (0, 1234), 1.234, "kWh"),
        ("grid_energy_imported: {input: 5, unit: MWh, scale: 0.01}", (3,), 30, "kWh"),
        ("battery_voltage: {input: 5, unit: mV, type: u32}", (0, 51234), 51.234, "V"),
        ("cell_voltage_lowest: {input: 5, unit: V, scale: 0.001}", (3312,), 3312, "mV"),
        ("grid_power: {input: 5, type: s16, positive: exporting}", (0xFFFF,), 1, "W"),
        ("battery_current: {input: 5, type: s16, scale: 0.1, positive: charging, offset: 10}", (0,), -10.0, "A"),
        ("own: {input: 5, name: Own, type: s16, positive: exporting}", (3,), -3, None),
        ("own: {input: 5, name: Own, unit: bar, scale: 0.01}", (123,), 1.23, "bar"),
        ("own: {input: 5, name: Own, bit: 3}", (8,), True, None),
        ("own: {input: 5, name: Own, bits: [4, 7]}", (0x1A5,), 10, None),
        ("own: {input: 5, name: Own, bits: [4, 7], labels: {10: ten}}", (0x1A5,), "ten", None),
        ("own: {input: 5, name: Own, type: s16, labels: {-1: below}}", (0xFFFF,), "below", None),
        ("own: {input: 5, name: Own, type: s16, invalid: [0x8000]}", (0x8000,), None, None),
        ("own: {input: 5, name: Own, type: s16, invalid: [-32768]}", (0x8000,), None, None),
        ("own: {input: 5, name: Own, type: text, length: 2}", (0x6162, 0x6300), "abc", None),
        ("own: {input: 5, name: Own, scale_at: {input: 6}}", (7, 0xFFFE), 0.07, None),
        ("own: {input: 5, name: Own, type: u64}", (1, 0, 0, 0), 2**48, None),
    ],
)
def test_a_reading_in_its_own_unit_and_direction(
    tmp_path: Path, row: str, registers: tuple[int, ...], value: object, unit: str | None
) -> None:
    made = reading(tmp_path, row)
    assert repr(made.decode(held(*registers))) == repr(value)
    assert made.unit == unit


def test_numbering_from_1_moves_every_address(tmp_path: Path) -> None:
    from_0, from_1 = load(tmp_path, SAMPLE), load(tmp_path, SAMPLE.replace("from_0", "from_1"))

    def addresses(made: RegisterMap) -> list[Address]:
        assert made.schedule is not None
        assert made.clock is not None
        points = [item.point for item in made.identity]
        points += [item.point for item in made.readings.values()]
        points += [item.point for item in made.controls.values()]
        return [
            *(address for point in points for address in point.addresses),
            *made.clock.point.addresses,
            *made.schedule.addresses,
        ]

    assert [(table, register - 1) for table, register in addresses(from_0)] == addresses(from_1)


def test_low_word_first(tmp_path: Path) -> None:
    made = reading(tmp_path, "solar_power: {input: 5, type: u32}", "line: {word_order: low_first}")
    assert made.decode(held(1, 2)) == 0x20001


def test_defaults_are_the_contracts(tmp_path: Path) -> None:
    made = load(
        tmp_path, f"{HEAD}readings:\n  battery_level: {{input: 5}}\ncontrols:\n  on_off: {{holding: 1, bit: 0}}\n"
    )
    line = made.line
    assert (line.unit, line.longest_read, line.longest_write, line.write_function) == (1, 125, 123, 16)
    assert (line.pause_ms, line.timeout_ms, line.settle_ms, line.no_read) == (0, 3000, 200, ())
    level = made.readings["battery_level"]
    assert (level.point.first, level.point.type, level.poll, level.name) == (5, "u16", Poll.FAST, None)
    assert made.controls["on_off"].poll is Poll.SLOW
    assert (made.id, made.clock, made.schedule, made.identity) == ("sample", None, None, ())


def test_a_number_without_limits_takes_what_its_register_holds(tmp_path: Path) -> None:
    made = load(tmp_path, SAMPLE.replace('unit: "%", min: 10, max: 100, step: 1', "type: s16, scale: 0.1"))
    reserve = made.controls["reserve_level"]
    assert (reserve.minimum, reserve.maximum, reserve.least_step) == (-3276.8, 3276.7, 0.1)


def test_windows_with_addresses_of_their_own(tmp_path: Path) -> None:
    schedule = load(tmp_path, SAMPLE).schedule
    assert schedule is not None
    (window,) = schedule.discharge
    raw = {(Table.HOLDING, 210): 0x1728, (Table.HOLDING, 211): 0x0500, (Table.HOLDING, 212): 0b1000}
    assert window.addresses == tuple(raw)
    assert (window.start.decode(raw), window.end.decode(raw)) == (1420, 300)
    assert window.active is not None
    assert window.active.decode(raw) is True
    assert window.active.encode(value=False, raw=raw) == {(Table.HOLDING, 212): 0}


def test_limits_in_a_multiple_of_their_unit(tmp_path: Path) -> None:
    text = SAMPLE.replace("scale: 0.5, unit: A, min: 0, max: 100", "unit: mA, scale: 100, min: 500, max: 100000")
    schedule = load(tmp_path, text).schedule
    assert schedule is not None
    current = schedule.charge[0].current
    assert current is not None
    assert (current.minimum, current.maximum, current.step, current.unit) == (0.5, 100, 0.1, "A")
    assert current.point.encode(40, {}) == {(Table.HOLDING, 170): 400}


def test_a_map_cannot_be_changed(tmp_path: Path) -> None:
    made = load(tmp_path, SAMPLE)
    with pytest.raises(TypeError):
        made.readings["x"] = made.readings["loop"]  # type: ignore[index]
    with pytest.raises(TypeError):
        made.readings["alarms"].flags[1] = "x"  # type: ignore[index]
    with pytest.raises(AttributeError):
        made.title = "x"  # type: ignore[misc]


POINTS = st.fixed_dictionaries(
    {
        "type": st.sampled_from(["u16", "s16", "u32", "s32", "u64", "s64", "f32"]),
        "scale": st.sampled_from([1, 0.1, 0.01, 0.001, 10, 0.5, -1, 3]),
        "offset": st.sampled_from([0, -100, 0.5, 40]),
    }
)


@given(row=POINTS, registers=st.lists(st.integers(0, 65535), min_size=4, max_size=4), low=st.booleans())
def test_any_registers_decode_and_go_back(row: dict[str, object], registers: list[int], low: bool) -> None:
    kind = str(row["type"])
    point = Point(
        table=Table.INPUT,
        first=5,
        type=kind,
        length=NUMBERS[kind].registers,
        low_first=low,
        scale=Decimal(str(row["scale"])),
        offset=Decimal(str(row["offset"])),
    )
    raw = held(*registers)
    value = point.decode(raw)
    if value is None:
        assert kind == "f32"
        return
    if kind in ("u16", "s16", "u32", "s32"):
        assert point.encode(value, {}).items() <= raw.items()
    if isinstance(value, float) and abs(value) > 2**50:
        # A 64-bit number with decimals has more digits than a float.
        assert point.rounded(value) == pytest.approx(value, rel=1e-15)
    else:
        assert point.rounded(value) == value


@pytest.mark.parametrize("key", KNOWN_READINGS)
def test_known_readings_are_spelled_as_home_assistant_spells_them(key: str) -> None:
    known = KNOWN_READINGS[key]
    if key == "alarms":
        assert known.device_class == BinarySensorDeviceClass.PROBLEM
        return
    assert known.state_class is None or known.state_class in set(SensorStateClass)
    assert known.device_class is None or known.device_class in set(SensorDeviceClass)
    if known.device_class is not None and known.unit is not None:
        assert known.unit in DEVICE_CLASS_UNITS[SensorDeviceClass(known.device_class)]


def test_device_classes_are_home_assistants() -> None:
    dates = {SensorDeviceClass.DATE, SensorDeviceClass.TIMESTAMP, SensorDeviceClass.UPTIME}
    assert set(SENSOR_CLASSES) == set(SensorDeviceClass) - dates
    assert set(BINARY_CLASSES) == set(BinarySensorDeviceClass)


def test_the_catalogue_is_the_whole_published_list() -> None:
    assert set(KNOWN_READINGS) == {
        "battery_level",
        "battery_health",
        "battery_power",
        "battery_voltage",
        "battery_current",
        "battery_temperature",
        "battery_energy_charged",
        "battery_energy_discharged",
        "battery_energy_charged_today",
        "battery_energy_discharged_today",
        "battery_charge_current_limit",
        "battery_discharge_current_limit",
        "battery_cycles",
        "cell_voltage_highest",
        "cell_voltage_lowest",
        "grid_power",
        "grid_voltage",
        "grid_current",
        "grid_frequency",
        "grid_energy_imported",
        "grid_energy_exported",
        "load_power",
        "load_energy",
        "solar_power",
        "solar_energy",
        "inverter_temperature",
        "inverter_state",
        "alarms",
    }
