"""The register table of the Larkfen LF-5H, invented and written by hand from its document; addresses as on the wire, from 0.

Register 30311 of the document is input register 310 here, 40710 is holding register 709. Long values: high word first; a read of one word
alone is refused. It acts on what it was told to save, its clock too. What the document leaves open, and what this inverter does: a period
whose start is after its end crosses midnight; the first period that covers the minute counts, charging first; outside of all it follows the
load down to 10 %; while grid charge is not allowed, a charge period takes what the roof does not need elsewhere.
"""

import struct
from collections.abc import Callable
from datetime import datetime

from tests.bench.make import Make, Registers, Save
from tests.bench.readings import Readings
from tests.bench.request import WRITE_ONE, WRITE_SEVERAL
from tests.bench.schedule import Duty, Task, covers, minute_of_day

_MEASURED = frozenset(
    {310, *range(339, 348), 360, 361, *range(370, 374), 380, 381, 390, 391, *range(400, 404)},
)
_LONG = frozenset({343, 360, 370, 372, 400, 402})
"""Where a value of two registers begins."""
INPUT = frozenset({*range(9), *_MEASURED})
CLOCK = range(700, 703)
ENABLE_WORD = 709
CHARGE_1, CHARGE_2, DISCHARGE_1 = 719, 721, 723
"""Where a period's start is; its end is in the next register."""
CHARGE_POWER, CHARGE_STOP_LEVEL, DISCHARGE_POWER, DISCHARGE_STOP_LEVEL = range(725, 729)
COMMAND = 789
SAVE = 1
SCHEDULE = (ENABLE_WORD, *range(CHARGE_1, DISCHARGE_STOP_LEVEL + 1))
UNUSED = 0xFFFF
NO_TEMPERATURE = 0x7FFF

_RATED_W = 5000
_LEAST_LEVEL = 10
_BACKUP, _GRID_CHARGE = 0, 8
_PERIODS = (
    ("charge 1", CHARGE_1, 2, Task.CHARGE, CHARGE_POWER, CHARGE_STOP_LEVEL),
    ("charge 2", CHARGE_2, 3, Task.CHARGE, CHARGE_POWER, CHARGE_STOP_LEVEL),
    ("discharge 1", DISCHARGE_1, 4, Task.DISCHARGE, DISCHARGE_POWER, DISCHARGE_STOP_LEVEL),
)
"""Name, start, bit of the enable word, task, and the registers of power and level that all periods of the kind have."""


def _two_bytes(high: int, low: int) -> int:
    return high << 8 | low


HOLDING_AT_START = {
    # Feed-in limit, charge 1, discharge 1, buzzer, grid charge, and bit 11, which the document does not name.
    ENABLE_WORD: 1 << 1 | 1 << 2 | 1 << 4 | 1 << 5 | 1 << 8 | 1 << 11,
    CHARGE_1: _two_bytes(0, 30),
    CHARGE_1 + 1: _two_bytes(4, 45),
    CHARGE_2: UNUSED,
    CHARGE_2 + 1: UNUSED,
    DISCHARGE_1: _two_bytes(17, 30),
    DISCHARGE_1 + 1: _two_bytes(19, 0),
    CHARGE_POWER: 60,
    CHARGE_STOP_LEVEL: 95,
    DISCHARGE_POWER: 30,
    DISCHARGE_STOP_LEVEL: 20,
}


def _minute(register: int) -> int:
    return (register >> 8) * 60 + (register & 0xFF)


def _duty(holding: Registers, shown: datetime) -> Duty:
    """Return the first enabled period that covers the minute; else follow the load."""
    word = holding[ENABLE_WORD]
    for name, first, bit, task, power, level in _PERIODS:
        start, end = holding[first], holding[first + 1]
        if UNUSED in (start, end) or not word >> bit & 1 or not holding[power]:
            continue
        if covers(_minute(start), _minute(end), minute_of_day(shown)):
            return Duty(
                task=task,
                watts=holding[power] / 100 * _RATED_W,
                until=float(holding[level]),
                from_grid=bool(word >> _GRID_CHARGE & 1),
                by=name,
            )
    return Duty(task=Task.FOLLOW_LOAD, until=float(_LEAST_LEVEL))


def _is_time(value: int) -> bool:
    return value == UNUSED or (value >> 8 <= 23 and value & 0xFF <= 59)


def _is_level(value: int) -> bool:
    return _LEAST_LEVEL <= value <= 100


_TAKES: dict[int, Callable[[int], bool]] = {
    **dict.fromkeys(CLOCK, lambda _: True),
    ENABLE_WORD: lambda _: True,
    **dict.fromkeys(range(CHARGE_1, CHARGE_POWER), _is_time),
    **dict.fromkeys((CHARGE_POWER, DISCHARGE_POWER), lambda value: value <= 100),
    **dict.fromkeys((CHARGE_STOP_LEVEL, DISCHARGE_STOP_LEVEL), _is_level),
    COMMAND: lambda value: value == SAVE,
}
"""Every register that can be written, and what it takes."""


def _clock_registers(shown: datetime) -> Registers:
    pairs = ((shown.year - 2000, shown.month), (shown.day, shown.hour), (shown.minute, shown.second))
    return {at: _two_bytes(*pair) for at, pair in zip(CLOCK, pairs, strict=True)}


def _clock_from(image: Registers) -> datetime:
    (year, month), (day, hour), (minute, second) = (divmod(image[at], 256) for at in CLOCK)
    if year > 99:
        raise ValueError("the year has two digits")
    return datetime(2000 + year, month, day, hour, minute, second)  # noqa: DTZ001 - local, without a zone


type Row = tuple[int, str, Callable[[Readings], float]]
"""First register, format of `struct`, raw value."""

_ROWS: tuple[Row, ...] = (
    (0, "H", lambda _: 0x0C5A),
    # On grid.
    (310, "H", lambda _: 2),
    (339, "H", lambda r: r.level),
    (340, "H", lambda _: 96),
    (341, "H", lambda r: r.battery_v * 10),
    (342, "h", lambda r: -r.battery_a * 10),
    (343, "i", lambda r: -r.battery_w / 100),
    (345, "h", lambda r: r.battery_celsius * 10 if r.battery_sensor else NO_TEMPERATURE),
    (346, "H", lambda r: r.charge_limit * 10),
    (347, "H", lambda r: r.discharge_limit * 10),
    (360, "i", lambda r: -r.grid_w),
    (370, "I", lambda r: r.string_1_w),
    (372, "I", lambda r: r.string_2_w),
    (380, "H", lambda r: r.totals.solar // 100 // 65536),
    (381, "H", lambda r: r.totals.load // 100 // 65536),
    (390, "H", lambda r: r.totals.solar // 100 % 65536),
    (391, "H", lambda r: r.totals.load // 100 % 65536),
    (400, "I", lambda r: (r.alarms & 1) << 9 | (r.alarms >> 1 & 1) << 10),
    (402, "I", lambda r: int(not r.battery_sensor) << 3),
)


def _input_registers(readings: Readings) -> dict[int, int]:
    serial = readings.serial.encode().ljust(16, b"\0")
    registers = {1 + at: serial[2 * at] << 8 | serial[2 * at + 1] for at in range(8)}
    for first, form, raw in _ROWS:
        octets = struct.pack(f">{form}", round(raw(readings)))
        registers |= dict(enumerate(struct.unpack(f">{len(octets) // 2}H", octets), first))
    return registers


LARKFEN = Make(
    serial="LF5-AM-2611-{:04d}",
    input=INPUT,
    holding=frozenset({*_MEASURED, *_TAKES}),
    at_start=HOLDING_AT_START,
    writable=frozenset(_TAKES),
    writes=frozenset({WRITE_ONE, WRITE_SEVERAL}),
    clock=CLOCK,
    clock_second=CLOCK[-1],
    keeps_utc=False,
    clock_registers=_clock_registers,
    clock_from=_clock_from,
    schedule=SCHEDULE,
    armed=lambda _: True,
    duty=_duty,
    highest_charge_w=lambda _: float(_RATED_W),
    backup_on=lambda holding: bool(holding[ENABLE_WORD] >> _BACKUP & 1),
    refuses=lambda image, address: not _TAKES[address](image[address]),
    input_registers=_input_registers,
    in_holding=_MEASURED,
    together=_LONG,
    save=Save(register=COMMAND, value=SAVE),
)
