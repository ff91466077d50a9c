"""The register table of the Teasel T5, invented and written by hand; addresses as on the wire, from 0.

Long values: high word first. A window's registers are its start, its power in W, its stop level in % and its end, times as
decimal hours and minutes: 22:40 is 2240. An armed window acts unless its start is its end; it may cross midnight. A stop level of
0 is none: the battery itself stops.
"""

import struct
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from tests.bench.make import Make, Registers
from tests.bench.readings import Readings
from tests.bench.request import WRITE_ONE, WRITE_SEVERAL
from tests.bench.schedule import Duty, Task, covers, minute_of_day

INPUT = range(400, 600)
HOLDING = range(700, 830)
CLOCK = range(706, 712)
RUNNING_MODE, RESERVE_LEVEL, CONTROL_WORD, HIGHEST_CHARGE_POWER = 732, 733, 734, 735
RATED_POWER, RATED_CAPACITY, PACKS, FEED_IN_LIMIT = 812, 813, 814, 821
SERIAL_NUMBER = 406

WINDOW_REGISTERS = 4


@dataclass(frozen=True, kw_only=True, slots=True)
class Window:
    """The registers of one window, one after the other."""

    start: int
    power: int
    stop_level: int
    end: int


def _window(first: int) -> Window:
    return Window(start=first, power=first + 1, stop_level=first + 2, end=first + 3)


CHARGE = tuple(map(_window, range(740, 756, WINDOW_REGISTERS)))
DISCHARGE = tuple(map(_window, range(764, 772, WINDOW_REGISTERS)))
WINDOWS = (*CHARGE, *DISCHARGE)
SCHEDULE = tuple(window.start + at for window in WINDOWS for at in range(WINDOW_REGISTERS))
"""Addresses of all window registers."""

SETTINGS = (CONTROL_WORD, RESERVE_LEVEL, RUNNING_MODE, HIGHEST_CHARGE_POWER)
WRITABLE = frozenset({*SETTINGS, *CLOCK, *SCHEDULE})

_MOST_POWER = 5000
_MODES = {0: Task.FOLLOW_LOAD, 1: Task.HOLD, 2: Task.FEED_GRID}

HOLDING_AT_START = {
    CONTROL_WORD: 1,
    RESERVE_LEVEL: 20,
    RUNNING_MODE: 0,
    HIGHEST_CHARGE_POWER: _MOST_POWER,
    CHARGE[0].start: 2240,
    CHARGE[0].power: 2000,
    CHARGE[0].stop_level: 100,
    CHARGE[0].end: 220,
    RATED_POWER: 5000,
    RATED_CAPACITY: 1000,
    PACKS: 2,
    # Nobody knows what it means.
    815: 7,
    FEED_IN_LIMIT: 3600,
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


INPUT_POINTS = {
    "model_code": _point(404, "u16", lambda _: 5110),
    "firmware": _point(405, "u16", lambda _: 217),
    "load_power": _point(420, "s32", lambda r: r.load_w),
    "grid_power": _point(422, "s32", lambda r: r.grid_w),
    "solar_power": _point(424, "u32", lambda r: r.solar_w),
    "grid_frequency": _point(426, "u16", lambda r: r.grid_hz * 100),
    "grid_voltage": _point(427, "u16", lambda r: r.grid_v * 10),
    "grid_current": _point(428, "s16", lambda r: r.grid_w / r.grid_v * 100),
    "workshop_loop_current": _point(431, "s16", lambda r: r.workshop_a * 100),
    "battery_power": _point(440, "s32", lambda r: r.battery_w),
    "battery_current": _point(442, "s16", lambda r: r.battery_a * 10),
    "battery_voltage": _point(443, "u16", lambda r: r.battery_v * 10),
    "battery_level": _point(444, "u16", lambda r: r.level),
    "battery_temperature": _point(445, "s16", lambda r: r.battery_celsius * 10),
    "battery_charge_current_limit": _point(446, "u16", lambda r: r.charge_limit * 10),
    "battery_discharge_current_limit": _point(447, "u16", lambda r: r.discharge_limit * 10),
    "battery_cycles": _point(448, "u16", lambda r: r.cycles),
    "battery_health": _point(449, "u16", lambda _: 97),
    "inverter_state": _point(460, "u16", lambda r: r.state),
    "inverter_temperature": _point(461, "s16", lambda r: r.inverter_celsius * 10),
    "alarms": _point(462, "u32", lambda r: r.alarms),
    "solar_energy": _point(500, "u32", lambda r: r.totals.solar // 100),
    "load_energy": _point(502, "u32", lambda r: r.totals.load // 100),
    "grid_energy_imported": _point(504, "u32", lambda r: r.totals.imported // 100),
    "grid_energy_exported": _point(506, "u32", lambda r: r.totals.exported // 100),
    "battery_energy_charged": _point(508, "u32", lambda r: r.totals.charged // 100),
    "battery_energy_discharged": _point(510, "u32", lambda r: r.totals.discharged // 100),
    "battery_energy_charged_today": _point(512, "u16", lambda r: r.totals.charged_today // 10),
    "battery_energy_discharged_today": _point(513, "u16", lambda r: r.totals.discharged_today // 10),
    "cell_temperature_lowest": _point(530, "s16", lambda r: (r.battery_celsius - 0.6) * 10),
    "cell_temperature_highest": _point(531, "s16", lambda r: (r.battery_celsius + 0.8) * 10),
    "cell_voltage_lowest": _point(532, "u16", lambda r: r.battery_v / 16 * 1000 - 5),
    "cell_voltage_highest": _point(533, "u16", lambda r: r.battery_v / 16 * 1000 + 4),
    "insulation_resistance": _point(
        540, "u16", lambda r: r.insulation_ohm / 1000 if r.insulation_ohm else _NOT_MEASURED
    ),
    "link_voltage": _point(541, "u16", lambda r: r.link_v * 10),
    "fan_speed": _point(542, "u16", lambda r: r.fan_rpm),
    "operating_hours": _point(543, "u32", lambda r: r.totals.running_seconds // 3600),
    "roof_1_power": _point(572, "u16", lambda r: r.string_1_w),
    "roof_1_voltage": _point(573, "u16", lambda r: r.roof_v * 10),
    "roof_1_current": _point(574, "u16", lambda r: r.string_1_w / r.roof_v * 100 if r.roof_v else 0),
    "roof_2_power": _point(576, "u16", lambda r: r.string_2_w),
    "roof_2_voltage": _point(577, "u16", lambda r: r.roof_v * 10),
    "roof_2_current": _point(578, "u16", lambda r: r.string_2_w / r.roof_v * 100 if r.roof_v else 0),
    "backup_power": _point(580, "u16", lambda _: 0),
    "backup_voltage": _point(581, "u16", lambda r: r.backup_v * 10),
}


def input_registers(readings: Readings) -> dict[int, int]:
    """Return every input register that is not always 0, by address."""
    serial = readings.serial.encode().ljust(16, b"\0")
    registers = {SERIAL_NUMBER + at: int.from_bytes(serial[2 * at : 2 * at + 2]) for at in range(8)}
    for point in INPUT_POINTS.values():
        packed = struct.pack(_FORMATS[point.kind], round(point.raw(readings)))
        for at in range(0, len(packed), 2):
            registers[point.first + at // 2] = int.from_bytes(packed[at : at + 2])
    return registers


def _minute_of(time: int) -> int:
    return time // 100 * 60 + time % 100


def _duty(holding: Registers, shown: datetime) -> Duty:
    """Return what to do now: an armed window that covers the minute, charging first; else the running mode."""
    if holding[CONTROL_WORD] & 1:
        for at, window in enumerate(WINDOWS):
            if covers(_minute_of(holding[window.start]), _minute_of(holding[window.end]), minute_of_day(shown)):
                charges = window in CHARGE
                task, none = (Task.CHARGE, 100) if charges else (Task.DISCHARGE, 0)
                until = holding[window.stop_level] or none
                by = f"charge {at + 1}" if charges else f"discharge {at + 1 - len(CHARGE)}"
                return Duty(task=task, watts=float(holding[window.power]), until=float(until), by=by)
    mode = _MODES.get(holding[RUNNING_MODE], Task.HOLD)
    return Duty(task=mode, until=float(holding[RESERVE_LEVEL]))


def _is_time(value: int) -> bool:
    return value == 2400 or (value // 100 <= 23 and value % 100 <= 59)


def _is_level(value: int) -> bool:
    return 10 <= value <= 100


_TAKES: dict[int, Callable[[int], bool]] = {
    RESERVE_LEVEL: _is_level,
    RUNNING_MODE: lambda value: value in _MODES,
    HIGHEST_CHARGE_POWER: lambda value: value <= _MOST_POWER,
    **{at: _is_time for window in WINDOWS for at in (window.start, window.end)},
    **{window.power: lambda value: value <= _MOST_POWER for window in WINDOWS},
    **{window.stop_level: lambda value: value == 0 or _is_level(value) for window in WINDOWS},
}
"""What a register takes that does not take everything."""


def value_fault(image: Registers, address: int) -> bool:
    """Return whether the value that `image` (the registers as they would be) has at a writable address is outside its range."""
    return address in _TAKES and not _TAKES[address](image.get(address, 0))


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
    clock_second=CLOCK[-1],
    keeps_utc=False,
    clock_registers=_clock_registers,
    clock_from=_clock_from,
    schedule=SCHEDULE,
    armed=lambda holding: bool(holding[CONTROL_WORD] & 1),
    duty=_duty,
    highest_charge_w=lambda holding: float(holding[HIGHEST_CHARGE_POWER]),
    backup_on=lambda holding: bool(holding[CONTROL_WORD] & 2),
    refuses=value_fault,
    input_registers=input_registers,
)
