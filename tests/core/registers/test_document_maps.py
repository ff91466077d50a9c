"""The maps of the invented documents, value by value: registers and what they mean are worked by hand from the documents.

Texts and floats are packed by `struct`, never by Chargehand. Registers are numbered as each document numbers them.
"""

import struct
from collections.abc import Mapping
from datetime import datetime

import pytest

from custom_components.chargehand.core.registers import Raw, RegisterMap, Table, load_map

from .samples import MAPS


def of(name: str) -> RegisterMap:
    return load_map(MAPS / f"{name}.yaml")


def on_wire(input: Mapping[int, int], holding: Mapping[int, int], base: int) -> Raw:  # noqa: A002 - the table's name
    """Registers by their numbers in the document, as they come from the wire."""
    tables = ((Table.INPUT, input), (Table.HOLDING, holding))
    return {(table, number - base): value for table, numbers in tables for number, value in numbers.items()}


def text(first: int, characters: str, order: str = ">") -> dict[int, int]:
    """Two characters a register; `<` has the low byte first."""
    octets = characters.encode("ascii")
    return {first + at: value for at, value in enumerate(struct.unpack(f"{order}{len(octets) // 2}H", octets))}


def floats(values: Mapping[int, float]) -> dict[int, int]:
    """IEEE 754 singles, high word first."""
    words = ((first, struct.unpack(">2H", struct.pack(">f", value))) for first, value in values.items())
    return {first + at: word for first, both in words for at, word in enumerate(both)}


def shown(made: RegisterMap, raw: Raw) -> dict[str, object]:
    return {key: reading.decode(raw) for key, reading in made.readings.items()}


LARKFEN = {
    1: 0x0C5A,
    **text(2, "LF5H-26-00000042"),
    311: 2,
    340: 57,
    341: 98,
    342: 5123,  # 0.1 V
    343: 0x10000 - 125,  # 0.1 A, + is discharge
    344: 0xFFFF,  # -32 in 0.1 kW: 3.2 kW of charging
    345: 0x10000 - 32,
    346: 0x10000 - 15,  # -1.5 °C
    347: 1000,
    348: 1200,
    361: 0,
    362: 1850,  # sold
    371: 0,
    372: 2400,
    373: 1,
    374: 4,  # 65540 W
    381: 2,
    391: 10,  # 2 × 65536 + 10 in 0.1 kWh
    382: 0,
    392: 45231,
    401: 1 << 9 >> 16,
    402: 1 << 9,  # word 1: too hot
    403: 0,
    404: 1 << 3,  # word 2: sensor lost
}


def test_larkfen() -> None:
    made = of("larkfen_lf5")
    raw = on_wire(LARKFEN, {}, 1)
    assert {one.key: one.point.decode(raw) for one in made.identity} == {
        "device_code": 3162,
        "serial_number": "LF5H-26-00000042",
    }
    assert made.identity[0].expect == (0x0C5A,)
    assert shown(made, raw) == {
        "inverter_state": "on_grid",
        "battery_level": 57,
        "battery_health": 98,
        "battery_voltage": 512.3,
        "battery_current": -12.5,
        "battery_power": -3200,
        "battery_temperature": -1.5,
        "battery_charge_current_limit": 100.0,
        "battery_discharge_current_limit": 120.0,
        "grid_power": -1850,
        "solar_power": 2400 + 65540,
        "roof_1_power": 2400,
        "roof_2_power": 65540,
        "solar_energy": 13108.2,
        "load_energy": 4523.1,
        "alarms": ("Too hot", "Sensor lost"),
    }
    assert shown(made, on_wire(LARKFEN | {346: 0x7FFF}, {}, 1))["battery_temperature"] is None
    assert made.line.pause_ms == 300


@pytest.mark.parametrize(
    ("register", "bit", "alarm"),
    [
        (402, 0, "Grid voltage out of range"),
        (402, 1, "Grid frequency out of range"),
        (402, 4, "Insulation low"),
        (402, 9, "Too hot"),
        (402, 10, "Too cold"),
        (404, 0, "Fan fault"),
        (404, 3, "Sensor lost"),
    ],
)
def test_each_fault_bit_of_the_larkfen(register: int, bit: int, alarm: str) -> None:
    words = dict.fromkeys(range(401, 405), 0) | {register: 1 << bit}
    assert shown(of("larkfen_lf5"), on_wire(words, {}, 1))["alarms"] == (alarm,)


PEBBLEMOOR = {
    **text(0, "PM8-AB-0000000042\0\0\0", "<"),
    0x10: 8,
    0x20: 1500,
    0x21: 1,
    0x22: 5210,  # 10 mV
    0x23: 635,  # 1/10 %
    0x24: 65,  # 25 °C
    0x26: 0x10000 - 500,  # -500 W, low word first
    0x27: 0xFFFF,
    0x28: 1,  # high word first: 65536 + 20, in 100 Wh
    0x29: 20,
    0x2A: 20,  # low word first: the same
    0x2B: 1,
    0x30: 0x00A2,  # reason 10, state 2
}


def test_pebblemoor() -> None:
    made = of("pebblemoor_pm8")
    raw = on_wire(PEBBLEMOOR, {0x100: 8000}, 0)
    assert {one.key: one.point.decode(raw) for one in made.identity} == {
        "serial_number": "PM8-AB-0000000042",
        "model_code": 8,
    }
    assert shown(made, raw) == {
        "battery_power": -1500,
        "battery_voltage": 52.1,
        "battery_level": 63.5,
        "battery_temperature": 25,
        "grid_power": -500,
        "battery_energy_charged": 6555.6,
        "battery_energy_discharged": 6555.6,
        "inverter_state": "running",
        "state_reason": 10,
        "rated_charge_power": 8000,
    }
    assert made.line.write_function == 6


@pytest.mark.parametrize(("direction", "power"), [(0, 0), (1, -1500), (2, 1500), (3, None), (0xFFFF, None)])
def test_the_battery_of_the_pebblemoor_goes_as_its_direction_says(direction: int, power: int | None) -> None:
    raw = on_wire(PEBBLEMOOR | {0x21: direction}, {}, 0)
    assert shown(of("pebblemoor_pm8"), raw)["battery_power"] == power


def test_the_clock_of_the_pebblemoor() -> None:
    clock = of("pebblemoor_pm8").clock
    assert clock is not None
    # Sunday 29 November 2026, 07:08:09: seconds first, the weekday fourth, Sunday is 0, all in BCD.
    numbers = dict(zip(range(0x200, 0x207), (0x09, 0x08, 0x07, 0x00, 0x29, 0x11, 0x26), strict=True))
    raw = on_wire({}, numbers, 0)
    assert clock.point.decode(raw) == datetime(2026, 11, 29, 7, 8, 9)  # noqa: DTZ001 - the clock's own keeping
    assert clock.point.encode(datetime(2026, 11, 29, 7, 8, 9)) == raw  # noqa: DTZ001


OXWHISTLE = {
    **text(11, "OW4-2611-7"),
    31: 2,
    35: 1 << 0,  # bit 1 of the document: the lowest 16 bits stand first
    36: 0,
    37: 0,
    38: 1 << 15,  # bit 64 of the document
    401: 1250,
    402: 5180,
    403: 44,
    404: 0x10000 - 900,
    405: 0x10000 - 1737,
    411: 1200,
    412: 34,
    421: 300,
    422: 0x10000 - 100,
    423: 50,
    431: 5,  # 3 × 65536 + 5 in 0.1 kWh
    432: 3,
    871: 25,
}


def test_oxwhistle() -> None:
    made = of("oxwhistle_ow4")
    raw = on_wire({}, OXWHISTLE, 1)
    assert [one.point.decode(raw) for one in made.identity] == ["OW4-2611-7"]
    assert shown(made, raw) == {
        "inverter_state": "running",
        "battery_temperature": 25.0,
        "battery_voltage": 51.8,
        "battery_level": 44,
        "battery_power": -900,
        "battery_current": -17.37,
        "solar_power": 1234,
        "roof_1_power": 1200,
        "roof_2_power": 34,
        "grid_power": 250,
        "grid_power_l1": 300,
        "grid_power_l2": -100,
        "grid_power_l3": 50,
        "grid_energy_imported": 19661.3,
        "alarms": ("Fault 1", "Fault 64"),
    }
    control = made.controls["grid_charge_current"]
    assert (control.decode(raw), control.minimum, control.maximum) == (25, 0, 120)


@pytest.mark.parametrize("map_", ["larkfen_lf5", "oxwhistle_ow4"])
def test_a_clock_of_two_bytes_a_register(map_: str) -> None:
    clock = of(map_).clock
    assert clock is not None
    first = {"larkfen_lf5": 701, "oxwhistle_ow4": 820}[map_]
    # 2026-11-29 07:08:09: year-2000 and month, day and hour, minute and second.
    raw = on_wire({}, {first: 0x1A0B, first + 1: 0x1D07, first + 2: 0x0809}, 1)
    assert clock.point.decode(raw) == datetime(2026, 11, 29, 7, 8, 9)  # noqa: DTZ001 - the clock's own keeping


def test_dunmarrow() -> None:
    made = of("dunmarrow_dr10")
    measured = {
        1000: 63.5,
        1002: 384.25,
        1004: -6.5,  # charge positive: this discharges
        1006: 2500.0,  # charge negative: so does this
        1008: 12.25,
        1010: 11.5,
        1020: 10000.0,
        1022: 9500.0,
    }
    holding = {2000: 1, 2002: 0xFFFF, 2003: 0x10000 - 3000, 2004: 95, 2005: 10}
    raw = on_wire({**floats(measured), 1012: 4, 1013: 1 << 3 | 1 << 7}, holding, 0)
    assert shown(made, raw) == {
        "battery_level": 63.5,
        "battery_voltage": 384.25,
        "battery_current": 6.5,
        "battery_power": 2500,
        "battery_energy_charged": 12250,
        "battery_energy_discharged": 11500,
        "inverter_state": "discharging",
        "alarms": ("Temperature", "No heartbeat from the energy management"),
        "charge_power_limit": 10000,
        "discharge_power_limit": 9500,
        "control_source": "Energy management",
        "power_set_point": -3000,
        "highest_level": 95,
        "lowest_level": 10,
    }
    assert (made.clock, made.schedule, made.controls) == (None, None, {})


LISTED = {
    "larkfen_lf5": (
        1,
        {1, *range(2, 10), 311, *range(340, 349), 361, 362, *range(371, 375), 381, 382, 391, 392, *range(401, 405)},
        {701, 702, 703, 710, *range(720, 730), 790},
    ),
    "pebblemoor_pm8": (
        0,
        {*range(0x0A), 0x10, *range(0x20, 0x25), *range(0x26, 0x2C), 0x30},
        {0x100, *range(0x200, 0x207), 0x2F0, 0x2F1, *range(0x300, 0x324)},
    ),
    "oxwhistle_ow4": (
        1,
        set(),
        {
            *range(11, 16),
            31,
            *range(35, 39),
            *range(401, 406),
            411,
            412,
            421,
            422,
            423,
            431,
            432,
            820,
            821,
            822,
            830,
            *range(831, 837),
            *range(841, 847),
            *range(851, 857),
            *range(861, 867),
            871,
        },
    ),
    "dunmarrow_dr10": (0, {*range(1000, 1014), *range(1020, 1024)}, {*range(2000, 2006)}),
}
"""What each document counts from, and its input and holding registers."""


@pytest.mark.parametrize("map_", LISTED)
def test_every_register_of_a_map_is_one_of_its_document(map_: str) -> None:
    made = of(map_)
    base, inputs, holdings = LISTED[map_]
    listed = {(Table.INPUT, number - base) for number in inputs} | {
        (Table.HOLDING, number - base) for number in holdings
    }
    points = [*made.identity, *made.readings.values()]
    named = {address for one in points for group in one.point.groups for address in group} | made.writable
    assert named - listed == set()
    assert not made.line.no_read


@pytest.mark.parametrize("map_", LISTED)
def test_every_power_has_the_sign_that_plans_take_it_for(map_: str) -> None:
    readings = of(map_).readings
    assert readings["battery_power"].positive == "discharging"
    assert "grid_power" not in readings or readings["grid_power"].positive == "importing"
