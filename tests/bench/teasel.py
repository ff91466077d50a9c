"""The register table of the Teasel T5, written by hand; addresses as on the wire, from 0. Long values: high word first."""

import struct
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from tests.bench.make import Make, Registers
from tests.bench.readings import Readings
from tests.bench.request import WRITE_ONE, WRITE_SEVERAL
from tests.bench.schedule import (
    CHARGE_FIRST,
    CONTROL_WORD,
    DISCHARGE_FIRST,
    RESERVE_LEVEL,
    RUNNING_MODE,
    SCHEDULE,
    WINDOW_REGISTERS,
    duty,
)

INPUT = range(200)
HOLDING = range(190, 320)
CLOCK = range(210, 216)
HIGHEST_CHARGE_CURRENT = 203
SETTINGS = (CONTROL_WORD, RESERVE_LEVEL, RUNNING_MODE, HIGHEST_CHARGE_CURRENT)
WRITABLE = frozenset({*SETTINGS, *CLOCK, *SCHEDULE})

HOLDING_AT_START = {
    CONTROL_WORD: 1,
    RESERVE_LEVEL: 20,
    RUNNING_MODE: 0,
    HIGHEST_CHARGE_CURRENT: 1000,
    **dict(zip(range(CHARGE_FIRST, CHARGE_FIRST + 6), (23, 0, 5, 0, 400, 100), strict=True)),
    300: 5000,
    301: 1024,
    302: 2,
    303: 7,
    310: 3600,
}

_NOT_MEASURED = 0xFFFF
_FORMATS = {"u16": ">H", "s16": ">h", "u32": ">I", "s32": ">i"}


@dataclass(frozen=True, kw_only=True, slots=True)
class Point:
    """One input value: its first register, its type, and its raw value from the readings."""

    first: int
    kind: str
    raw: Callable[[Readings], float]


def _point(first: int, kind: str, raw: Callable[[Readings], float]) -> Point:
    return Point(first=first, kind=kind, raw=raw)


INPUT_POINTS = (
    _point(18, "u16", lambda _: 217),
    _point(19, "u16", lambda _: 5110),
    _point(100, "u16", lambda r: r.level),
    _point(101, "s32", lambda r: r.battery_w),
    _point(103, "u16", lambda r: r.battery_v * 10),
    _point(104, "s16", lambda r: r.battery_a * 10),
    _point(105, "s16", lambda r: r.battery_celsius * 10),
    _point(106, "u16", lambda _: 97),
    _point(107, "u16", lambda r: r.cycles),
    _point(108, "u16", lambda r: r.charge_limit * 10),
    _point(109, "u16", lambda r: r.discharge_limit * 10),
    _point(110, "u16", lambda r: r.state),
    _point(111, "u32", lambda r: r.alarms),
    _point(113, "s16", lambda r: r.inverter_celsius * 10),
    _point(120, "s32", lambda r: r.grid_w),
    _point(122, "u16", lambda r: r.grid_v * 10),
    _point(123, "s16", lambda r: r.grid_w / r.grid_v * 100),
    _point(124, "u16", lambda r: r.grid_hz * 100),
    _point(125, "s32", lambda r: r.load_w),
    _point(127, "u32", lambda r: r.solar_w),
    _point(130, "s16", lambda r: r.workshop_a * 100),
    _point(140, "u32", lambda r: r.totals.charged // 100),
    _point(142, "u32", lambda r: r.totals.discharged // 100),
    _point(144, "u16", lambda r: r.totals.charged_today // 10),
    _point(145, "u16", lambda r: r.totals.discharged_today // 10),
    _point(146, "u32", lambda r: r.totals.imported // 100),
    _point(148, "u32", lambda r: r.totals.exported // 100),
    _point(150, "u32", lambda r: r.totals.load // 100),
    _point(152, "u32", lambda r: r.totals.solar // 100),
    _point(160, "u16", lambda r: r.battery_v / 16 * 1000 + 4),
    _point(161, "u16", lambda r: r.battery_v / 16 * 1000 - 5),
    _point(162, "s16", lambda r: (r.battery_celsius + 0.8) * 10),
    _point(163, "s16", lambda r: (r.battery_celsius - 0.6) * 10),
    _point(165, "u16", lambda r: r.insulation_ohm / 1000 if r.insulation_ohm else _NOT_MEASURED),
    _point(166, "u16", lambda r: r.link_v * 10),
    _point(167, "u16", lambda r: r.fan_rpm),
    _point(168, "u32", lambda r: r.totals.running_seconds // 3600),
    _point(180, "u16", lambda r: r.roof_v * 10),
    _point(181, "u16", lambda r: r.string_1_w / r.roof_v * 100 if r.roof_v else 0),
    _point(182, "u16", lambda r: r.string_1_w),
    _point(183, "u16", lambda r: r.roof_v * 10),
    _point(184, "u16", lambda r: r.string_2_w / r.roof_v * 100 if r.roof_v else 0),
    _point(185, "u16", lambda r: r.string_2_w),
    _point(186, "u16", lambda r: r.backup_v * 10),
    _point(187, "u16", lambda _: 0),
)


def input_registers(readings: Readings) -> dict[int, int]:
    """Every input register that is not always 0, by address."""
    serial = readings.serial.encode().ljust(16, b"\0")
    registers = {10 + at: int.from_bytes(serial[2 * at : 2 * at + 2]) for at in range(8)}
    for point in INPUT_POINTS:
        packed = struct.pack(_FORMATS[point.kind], round(point.raw(readings)))
        for at in range(0, len(packed), 2):
            registers[point.first + at // 2] = int.from_bytes(packed[at : at + 2])
    return registers


def value_fault(image: Registers, address: int) -> bool:
    """Whether the value that `image` (the registers as they would be) has at a writable address is outside its range."""
    value = image.get(address, 0)
    if address in SCHEDULE:
        block = CHARGE_FIRST if address < DISCHARGE_FIRST else DISCHARGE_FIRST
        field = (address - block) % WINDOW_REGISTERS
        return not _FIELD_TAKES[field](value, _unused(image, address - field))
    return address in _TAKES and not _TAKES[address](value)


def _unused(image: Registers, first: int) -> bool:
    return not any(image.get(first + at, 0) for at in range(4))


_TAKES: dict[int, Callable[[int], bool]] = {
    RESERVE_LEVEL: lambda value: 10 <= value <= 100,
    RUNNING_MODE: lambda value: value <= 2,
    HIGHEST_CHARGE_CURRENT: lambda value: value <= 1000,
}

_FIELD_TAKES: tuple[Callable[[int, bool], bool], ...] = (
    lambda hour, _: hour <= 24,
    lambda minute, _: minute <= 59,
    lambda hour, _: hour <= 24,
    lambda minute, _: minute <= 59,
    lambda current, _: current <= 1000,
    lambda level, unused: 10 <= level <= 100 or (unused and level == 0),
)


def _clock_registers(shown: datetime) -> Registers:
    fields = (shown.year - 2000, shown.month, shown.day, shown.hour, shown.minute, shown.second)
    return dict(zip(CLOCK, fields, strict=True))


def _clock_from(image: Registers) -> datetime:
    year, month, day, hour, minute, second = (image[address] for address in CLOCK)
    if year > 99:
        raise ValueError("the year has two digits")
    return datetime(2000 + year, month, day, hour, minute, second)  # noqa: DTZ001 - local, without a zone


TEASEL = Make(
    serial="T5-AM-2611-{:04d}",
    input=INPUT,
    holding=HOLDING,
    at_start=HOLDING_AT_START,
    writable=WRITABLE,
    writes=frozenset({WRITE_ONE, WRITE_SEVERAL}),
    clock=CLOCK,
    keeps_utc=False,
    clock_registers=_clock_registers,
    clock_from=_clock_from,
    schedule=SCHEDULE,
    armed=lambda holding: bool(holding[CONTROL_WORD] & 1),
    duty=duty,
    highest_charge_a=lambda holding: holding[HIGHEST_CHARGE_CURRENT] / 10,
    backup_on=lambda holding: bool(holding[CONTROL_WORD] & 2),
    refuses=value_fault,
    input_registers=input_registers,
)
