"""The register table of the Burdock B3, invented and written by hand; addresses as on the wire, from 0.

Long values: low word first. Powers are in a unit of their own: watts by ten to the power of register 20. Writes are of single
registers. Windows run on its clock, which keeps UTC; they do not cross midnight; their times are on steps of five minutes, or
23:59, which it takes for the end of the day. A charge window keeps minutes since midnight, a discharge window hour and minute
in the high and low byte of a register. A charge window keeps its current in half amperes, a discharge window its power in tens
of watts. A window at no current or power, or whose start is its end, does nothing.
"""

import struct
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime

from tests.bench.make import Make, Registers
from tests.bench.readings import Readings
from tests.bench.request import WRITE_ONE
from tests.bench.schedule import Duty, Task, minute_of_day

INPUT = range(100)
HOLDING = range(100, 190)
RESERVE_LEVEL, RUNNING_MODE, ACTIVE_WORD = 100, 101, 102
CLOCK = range(110, 112)
CHARGE = tuple(range(120, 136, 4))
"""First register of each charge window: start, end, current in 0.5 A, stop level in %."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Discharge:
    """The registers of one discharge window, and its bit in the active word."""

    start: int
    end: int
    power: int
    stop_level: int
    bit: int


DISCHARGE = (
    Discharge(start=140, end=141, power=150, stop_level=160, bit=0),
    Discharge(start=142, end=143, power=151, stop_level=161, bit=1),
)
SCHEDULE = (ACTIVE_WORD, *range(120, 136), *range(140, 144), 150, 151, 160, 161)

_STEP = 5
_LAST_MINUTE = 23 * 60 + 59
_MOST_CURRENT = 200
_MOST_POWER = 500
_NOT_MEASURED = 0x8000
_POWER_OF_TEN = 1
_WATTS = 10
"""Of one step of a power: ten to that power."""


def _packed(hour: int, minute: int) -> int:
    return hour << 8 | minute


HOLDING_AT_START = {
    RESERVE_LEVEL: 15,
    RUNNING_MODE: 1,
    # Bit 12 is reserved and reads as it was written.
    ACTIVE_WORD: 1 | 1 << 12,
    120: 30,
    121: 285,
    122: 80,
    123: 100,
    **dict.fromkeys((127, 131, 135), 100),
    140: _packed(17, 30),
    141: _packed(19, 0),
    150: 150,
    160: 30,
    151: 100,
    161: 20,
    180: 500,
}

_MODES = {1: Task.FOLLOW_LOAD, 2: Task.HOLD, 3: Task.FEED_GRID}


def _covers(start: int, end: int, minute: int) -> bool:
    return start <= minute < (24 * 60 if end == _LAST_MINUTE else end)


def _minute_of(packed: int) -> int:
    return (packed >> 8) * 60 + (packed & 0xFF)


def _duties(holding: Registers, minute: int) -> Iterator[Duty]:
    for number, first in enumerate(CHARGE, 1):
        start, end, current, level = (holding[first + at] for at in range(4))
        if current and _covers(start, end, minute):
            yield Duty(task=Task.CHARGE, amps=current / 2, until=float(level), by=f"charge {number}")
    for window in DISCHARGE:
        active = holding[ACTIVE_WORD] >> window.bit & 1
        start, end = _minute_of(holding[window.start]), _minute_of(holding[window.end])
        if active and holding[window.power] and _covers(start, end, minute):
            watts, level = float(holding[window.power] * _WATTS), holding[window.stop_level]
            yield Duty(task=Task.DISCHARGE, watts=watts, until=float(level), by=f"discharge {window.bit + 1}")


def _duty(holding: Registers, shown: datetime) -> Duty:
    """Return the first window that covers the minute, charging before discharging; else the running mode."""
    mode = Duty(task=_MODES.get(holding[RUNNING_MODE], Task.HOLD), until=float(holding[RESERVE_LEVEL]))
    return next(_duties(holding, minute_of_day(shown)), mode)


def _on_step(minute: int) -> bool:
    return minute == _LAST_MINUTE or (minute < _LAST_MINUTE and minute % _STEP == 0)


def _is_packed(value: int) -> bool:
    return value >> 8 <= 23 and value & 0xFF <= 59 and _on_step(_minute_of(value))


def _is_level(value: int) -> bool:
    return 10 <= value <= 100


_TAKES: dict[int, Callable[[int], bool]] = {
    RESERVE_LEVEL: _is_level,
    RUNNING_MODE: lambda value: value in _MODES,
    ACTIVE_WORD: lambda _: True,
    **dict.fromkeys(CLOCK, lambda _: True),
    **{first + at: _on_step for first in CHARGE for at in range(2)},
    **{first + 2: lambda value: value <= _MOST_CURRENT for first in CHARGE},
    **{first + 3: _is_level for first in CHARGE},
    **{at: _is_packed for window in DISCHARGE for at in (window.start, window.end)},
    **{window.power: lambda value: value <= _MOST_POWER for window in DISCHARGE},
    **{window.stop_level: _is_level for window in DISCHARGE},
}
"""Every register that can be written, and what it takes."""


def _clock_registers(shown: datetime) -> Registers:
    seconds = int(shown.replace(tzinfo=UTC).timestamp())
    return {CLOCK[0]: seconds & 0xFFFF, CLOCK[1]: seconds >> 16}


def _clock_from(image: Registers) -> datetime:
    return datetime.fromtimestamp(image[CLOCK[1]] << 16 | image[CLOCK[0]], UTC).replace(tzinfo=None)


def _power(watts: float) -> float:
    return watts / _WATTS


type Row = tuple[int, str, Callable[[Readings], float]]
"""First register, format of `struct`, raw value."""

_ROWS: tuple[Row, ...] = (
    (10, "H", lambda _: 330),
    (11, "H", lambda _: 104),
    (20, "h", lambda _: _POWER_OF_TEN),
    (21, "h", lambda r: _power(-r.battery_w)),
    (22, "h", lambda r: _power(-r.grid_w)),
    (23, "h", lambda r: _power(r.load_w)),
    (24, "h", lambda r: _power(r.solar_w)),
    (25, "H", lambda r: r.level * 10),
    (26, "H", lambda r: r.battery_v * 1000),
    (27, "h", lambda r: -r.battery_a * 10),
    (28, "H", lambda r: (r.battery_celsius + 40) * 10),
    # The state is in bits 4 to 6 of a word whose other bits mean nothing.
    (29, "H", lambda r: r.state << 4 | 1 << 15 | 1),
    (30, "H", lambda r: (r.alarms & 1) << 1 | (r.alarms >> 1 & 1) << 2),
    (31, "H", lambda r: r.charge_limit),
    (32, "H", lambda r: r.discharge_limit),
    (33, "H", lambda r: r.grid_v * 10),
    (34, "H", lambda _: 98),
    (35, "H", lambda r: r.cycles),
    (36, "h", lambda r: r.inverter_celsius * 10),
    # It has no sensor on its loop.
    (37, "H", lambda _: _NOT_MEASURED),
    (40, "I", lambda r: r.totals.charged),
    (42, "I", lambda r: r.totals.discharged),
    (44, "I", lambda r: r.totals.imported),
    (46, "I", lambda r: r.totals.exported),
    (48, "I", lambda r: r.totals.load),
    (50, "I", lambda r: r.totals.solar),
    (52, "f", lambda r: r.grid_hz),
    (54, "H", lambda r: r.battery_v / 16 * 1000 + 4),
    (55, "H", lambda r: r.battery_v / 16 * 1000 - 5),
)


def _input_registers(readings: Readings) -> dict[int, int]:
    serial = readings.serial.encode().ljust(20, b"\0")
    registers = {at: serial[2 * at] << 8 | serial[2 * at + 1] for at in range(10)}
    for first, form, raw in _ROWS:
        value = raw(readings)
        octets = struct.pack(f">{form}", value if form == "f" else round(value))
        words = struct.unpack(f">{len(octets) // 2}H", octets)
        registers |= dict(enumerate(reversed(words), first))
    return registers


BURDOCK = Make(
    serial="B3-AM-2611-{:04d}",
    input=INPUT,
    holding=HOLDING,
    at_start=HOLDING_AT_START,
    writable=frozenset(_TAKES),
    writes=frozenset({WRITE_ONE}),
    clock=CLOCK,
    clock_second=CLOCK[-1],
    keeps_utc=True,
    clock_registers=_clock_registers,
    clock_from=_clock_from,
    schedule=SCHEDULE,
    armed=lambda _: True,
    duty=_duty,
    highest_charge_w=lambda _: float(_MOST_POWER * _WATTS),
    backup_on=lambda holding: bool(holding[ACTIVE_WORD] >> 8 & 1),
    refuses=lambda image, address: not _TAKES[address](image[address]),
    input_registers=_input_registers,
)
