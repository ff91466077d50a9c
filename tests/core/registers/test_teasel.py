"""The bundled map of the Teasel T5, value by value against its register table (tests/bench; invented)."""

import struct
from datetime import datetime

import pytest

from custom_components.chargehand.core.registers import (
    KNOWN_READINGS,
    ControlKind,
    Keeps,
    Poll,
    RegisterMap,
    Table,
    ValueRefused,
    batches,
    load_map,
)

from .samples import MAPS


@pytest.fixture(scope="module")
def teasel() -> RegisterMap:
    return load_map(MAPS / "teasel_t5.yaml")


def registers(table: Table, first: int, form: str, *values: float | bytes) -> dict[tuple[Table, int], int]:
    octets = struct.pack(f">{form}", *values)
    return {
        (table, first + index // 2): int.from_bytes(octets[index : index + 2]) for index in range(0, len(octets), 2)
    }


def inputs(first: int, form: str, *values: float | bytes) -> dict[tuple[Table, int], int]:
    return registers(Table.INPUT, first, form, *values)


def holdings(first: int, form: str, *values: float) -> dict[tuple[Table, int], int]:
    return registers(Table.HOLDING, first, form, *values)


@pytest.mark.parametrize(
    ("key", "raw", "value"),
    [
        ("battery_level", inputs(444, "H", 63), 63),
        ("battery_power", inputs(440, "i", 2000), -2000),
        ("battery_power", inputs(440, "i", -1500), 1500),
        ("battery_voltage", inputs(443, "H", 512), 51.2),
        ("battery_current", inputs(442, "h", 400), -40.0),
        ("battery_temperature", inputs(445, "h", -35), -3.5),
        ("battery_health", inputs(449, "H", 98), 98),
        ("battery_cycles", inputs(448, "H", 412), 412),
        ("battery_charge_current_limit", inputs(446, "H", 1000), 100.0),
        ("battery_discharge_current_limit", inputs(447, "H", 1200), 120.0),
        ("inverter_state", inputs(460, "H", 1), "running"),
        ("inverter_state", inputs(460, "H", 9), None),
        ("alarms", inputs(462, "I", 0), ()),
        (
            "alarms",
            inputs(462, "I", 1 << 16 | 1 << 8 | 1 << 3 | 1),
            ("Battery too hot", "Fan blocked", "Insulation low"),
        ),
        ("inverter_temperature", inputs(461, "h", 415), 41.5),
        ("grid_power", inputs(422, "i", -800), -800),
        ("grid_voltage", inputs(427, "H", 2304), 230.4),
        ("grid_current", inputs(428, "h", -347), -3.47),
        ("grid_frequency", inputs(426, "H", 5001), 50.01),
        ("load_power", inputs(420, "i", 640), 640),
        ("solar_power", inputs(424, "I", 70000), 70000),
        ("workshop_loop_current", inputs(431, "h", -123), -1.23),
        ("battery_energy_charged", inputs(508, "I", 123456), 12345.6),
        ("battery_energy_discharged", inputs(510, "I", 1), 0.1),
        ("battery_energy_charged_today", inputs(512, "H", 512), 5.12),
        ("battery_energy_discharged_today", inputs(513, "H", 7), 0.07),
        ("grid_energy_imported", inputs(504, "I", 99), 9.9),
        ("grid_energy_exported", inputs(506, "I", 98), 9.8),
        ("load_energy", inputs(502, "I", 97), 9.7),
        ("solar_energy", inputs(500, "I", 96), 9.6),
        ("cell_voltage_highest", inputs(533, "H", 3345), 3345),
        ("cell_voltage_lowest", inputs(532, "H", 3331), 3331),
        ("cell_temperature_highest", inputs(531, "h", 221), 22.1),
        ("cell_temperature_lowest", inputs(530, "h", -11), -1.1),
        ("insulation_resistance", inputs(540, "H", 1800), 1800),
        ("insulation_resistance", inputs(540, "H", 0xFFFF), None),
        ("link_voltage", inputs(541, "H", 3905), 390.5),
        ("fan_speed", inputs(542, "H", 2100), 2100),
        ("operating_hours", inputs(543, "I", 81000), 81000),
        ("roof_1_voltage", inputs(573, "H", 3801), 380.1),
        ("roof_1_current", inputs(574, "H", 512), 5.12),
        ("roof_1_power", inputs(572, "H", 1946), 1946),
        ("roof_2_voltage", inputs(577, "H", 3790), 379.0),
        ("roof_2_current", inputs(578, "H", 499), 4.99),
        ("roof_2_power", inputs(576, "H", 1891), 1891),
        ("backup_voltage", inputs(581, "H", 2299), 229.9),
        ("backup_power", inputs(580, "H", 350), 350),
        ("rated_power", holdings(812, "H", 5000), 5000),
        ("rated_capacity", holdings(813, "H", 1250), 12.5),
        ("battery_packs", holdings(814, "H", 2), 2),
        ("feed_in_limit", holdings(821, "H", 3600), 3600),
    ],
)
def test_a_reading(teasel: RegisterMap, key: str, raw: dict[tuple[Table, int], int], value: object) -> None:
    assert set(teasel.readings[key].point.addresses) == set(raw)
    assert repr(teasel.readings[key].decode(raw)) == repr(value)


def test_identity(teasel: RegisterMap) -> None:
    raw = inputs(404, "HH16s", 5110, 217, b"T5-AM-2611-0042")
    assert {item.key: item.point.decode(raw) for item in teasel.identity} == {
        "model_code": 5110,
        "firmware": 2.17,
        "serial_number": "T5-AM-2611-0042",
    }
    assert 5110 in next(item for item in teasel.identity if item.key == "model_code").expect


def test_line(teasel: RegisterMap) -> None:
    line = teasel.line
    assert (line.unit, line.longest_read, line.timeout_ms, line.settle_ms) == (1, 100, 1000, 200)
    assert [(span.table, span.first, span.last) for span in line.no_read] == [(Table.INPUT, 640, 659)]


def test_controls(teasel: RegisterMap) -> None:
    word = holdings(734, "H", 0b1000_0000_0000_0001)
    assert [key for key, control in teasel.controls.items() if control.kind is ControlKind.SWITCH] == [
        "timed_charging",
        "backup_output",
        "buzzer",
    ]
    assert teasel.controls["timed_charging"].decode(word) is True
    assert teasel.controls["buzzer"].encode(value=True, raw=word) == holdings(734, "H", 0b1000_0000_0000_0101)
    reserve = teasel.controls["reserve_level"]
    assert (reserve.minimum, reserve.maximum, reserve.step, reserve.unit) == (10, 100, 1, "%")
    assert reserve.encode(20, {}) == holdings(733, "H", 20)
    mode = teasel.controls["running_mode"]
    assert mode.encode("feed_grid", {}) == holdings(732, "H", 2)
    assert mode.decode(holdings(732, "H", 1)) == "hold"
    assert mode.decode(holdings(732, "H", 7)) is None
    power = teasel.controls["highest_charge_power"]
    assert (power.minimum, power.maximum, power.least_step, power.unit) == (0, 5000, 1, "W")
    assert power.encode(3175, {}) == holdings(735, "H", 3175)


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("reserve_level", 9),
        ("reserve_level", 101),
        ("reserve_level", float("nan")),
        ("reserve_level", "20"),
        ("running_mode", "off"),
        ("running_mode", 1),
    ],
)
def test_what_a_control_cannot_be_is_refused(teasel: RegisterMap, key: str, value: float | str) -> None:
    with pytest.raises(ValueRefused, match=r"not_offered|not_in_range.*'minimum': '10', 'maximum': '100'"):
        teasel.controls[key].encode(value, {})


def test_clock(teasel: RegisterMap) -> None:
    assert teasel.clock is not None
    assert teasel.clock.keeps is Keeps.LOCAL
    shown = datetime(2026, 11, 25, 6, 42)  # noqa: DTZ001 - the clock's own keeping
    assert teasel.clock.point.decode(holdings(706, "6H", 26, 11, 25, 6, 42, 0)) == shown


def test_schedule(teasel: RegisterMap) -> None:
    schedule = teasel.schedule
    assert schedule is not None
    assert schedule.armed_by is not None
    assert schedule.armed_by.control is teasel.controls["timed_charging"]
    assert (schedule.crosses_midnight, schedule.step_minutes, schedule.latest_end) == (True, 1, "24:00")
    assert {register for _, register in schedule.addresses} == {734, *range(740, 756), *range(764, 772)}
    first = schedule.charge[0]
    raw = holdings(740, "4H", 2240, 2000, 100, 220)
    assert (first.start.decode(raw), first.end.decode(raw)) == (22 * 60 + 40, 2 * 60 + 20)
    assert first.power is not None
    assert first.stop_level is not None
    assert (first.power.point.decode(raw), first.stop_level.point.decode(raw)) == (2000, 100)
    assert (first.power.minimum, first.power.maximum, first.power.step, first.power.unit) == (0, 5000, 1, "W")
    assert (first.stop_level.minimum, first.stop_level.maximum) == (10, 100)
    assert all(window.current is None for window in (*schedule.charge, *schedule.discharge))
    assert [window.start.first for window in schedule.charge] == [740, 744, 748, 752]
    assert [window.start.first for window in schedule.discharge] == [764, 768]


def test_every_address_is_one_that_the_inverter_has(teasel: RegisterMap) -> None:
    points = [*(item.point for item in teasel.identity), *(reading.point for reading in teasel.readings.values())]
    points += [control.point for control in teasel.controls.values()]
    groups = [group for point in points for group in point.groups]
    for read in batches(groups, teasel.line):
        low, high = (400, 599) if read.table is Table.INPUT else (700, 829)
        assert low <= read.first
        assert read.first + read.count - 1 <= high


def test_all_known_readings_are_there_but_what_is_slow_is_read_slowly(teasel: RegisterMap) -> None:
    assert KNOWN_READINGS.keys() <= teasel.readings.keys()
    assert len(teasel.readings) >= 40
    fast = {key for key, reading in teasel.readings.items() if reading.poll is Poll.FAST}
    assert {"battery_level", "battery_power", "grid_power", "load_power", "solar_power"} <= fast
    assert not {key for key in fast if "energy" in key or "cell" in key}
    assert not {key for key in fast if teasel.readings[key].point.table is Table.HOLDING}


def test_a_poll_of_the_fast_readings_takes_two_requests(teasel: RegisterMap) -> None:
    fast = [
        group for reading in teasel.readings.values() if reading.poll is Poll.FAST for group in reading.point.groups
    ]
    assert len(batches(fast, teasel.line)) == 2
