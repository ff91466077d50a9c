"""The register table of the Pebblemoor PM-8, invented and written by hand from its document; addresses as on the wire, from 0.

Long values: low word first, two of them high word first. Its clock is a chip: it takes one register at a time, and counts weekdays by
itself, whatever the date. What the document leaves open, and what this inverter does: U_bat counts 10 mV (mV/10), energies count 100 Wh
(Wh*100); what is not listed answers 02; what is locked answers 04, or 01 if asked for; a key that is none, and a slot that is not whole or
has a value out of range, answer 03, the wrong function 01; a second key begins the 60 s anew; a slot belongs to the day on which it starts,
also after midnight; slots that overlap are taken; outside of all, or with the scheduler off, it follows the load down to 10 %. Power and
target of a hold slot mean nothing.
"""

import struct
from collections.abc import Callable
from datetime import datetime

from tests.bench.make import Lock, Make, Registers, Slots
from tests.bench.readings import Readings
from tests.bench.request import WRITE_ONE, WRITE_SEVERAL
from tests.bench.schedule import Duty, Task, minute_of_day

INPUT = frozenset({*range(0x0A), 0x10, *range(0x20, 0x25), *range(0x26, 0x2C), 0x30})
RATED_POWER = 0x100
CLOCK = range(0x200, 0x207)
SECOND, MINUTE, HOUR, WEEKDAY, DAY, MONTH, YEAR = CLOCK
UNLOCK, SCHEDULER = 0x2F0, 0x2F1
KEY, LOCKED_AGAIN_S = 0xA5A5, 60.0
ENABLED, DISABLED = 0x55AA, 0xAA55
SLOT_SIZE = 6
SLOTS = range(0x300, 0x324)

_RATED_W = 5000
_LEAST_LEVEL = 10.0
_DAY_MINUTES = 24 * 60
_TASKS = {1: Task.CHARGE, 2: Task.DISCHARGE, 3: Task.HOLD}


def _slot(number: int, values: tuple[int, ...]) -> dict[int, int]:
    return dict(enumerate(values, SLOTS.start + SLOT_SIZE * number))


HOLDING_AT_START = {
    RATED_POWER: _RATED_W,
    SCHEDULER: ENABLED,
    # Every day from 00:30, 4 h at 3000 W to 90 %; Monday to Friday from 17:15, 105 minutes at 2500 W down to 25 %.
    **_slot(0, (1, 0x7F, 30, 240, 3000, 900)),
    **_slot(4, (2, 0x1F, 1035, 105, 2500, 250)),
}


def _of_bcd(value: int) -> int:
    return (value >> 4) * 10 + (value & 0xF)


def _bcd(value: int) -> int:
    return value // 10 << 4 | value % 10


def _runs(holding: Registers, first: int, minute: int) -> bool:
    """Return whether a slot runs at a minute of the day: it began today, or yesterday and lasts over midnight."""
    days, start, duration = (holding[first + at] for at in (1, 2, 3))
    # Day 0 of the clock is Sunday, bit 0 of a slot's days is Monday.
    today = (_of_bcd(holding[WEEKDAY]) - 1) % 7
    began = ((today, minute - start), ((today - 1) % 7, minute + _DAY_MINUTES - start))
    return any(days >> day & 1 and 0 <= since < duration for day, since in began)


def _duty(holding: Registers, shown: datetime) -> Duty:
    """Return the last slot that runs now; else follow the load."""
    duty = Duty(task=Task.FOLLOW_LOAD, until=_LEAST_LEVEL)
    if holding[SCHEDULER] != ENABLED:
        return duty
    for number, first in enumerate(SLOTS[::SLOT_SIZE]):
        task = _TASKS.get(holding[first])
        if task and _runs(holding, first, minute_of_day(shown)):
            watts, level = float(holding[first + 4]), holding[first + 5] / 10
            duty = Duty(task=task, watts=watts, until=level, by=f"slot {number}")
    return duty


def _is_bcd(low: int, high: int) -> Callable[[int], bool]:
    return lambda value: value >> 4 <= 9 and value & 0xF <= 9 and low <= _of_bcd(value) <= high


def _at_most(most: int) -> Callable[[int], bool]:
    return lambda value: value <= most


_OF_A_SLOT = tuple(map(_at_most, (3, 0x7F, _DAY_MINUTES - 1, _DAY_MINUTES, 10_000, 1000)))
_TAKES: dict[int, Callable[[int], bool]] = {
    SECOND: _is_bcd(0, 59),
    MINUTE: _is_bcd(0, 59),
    HOUR: _is_bcd(0, 23),
    WEEKDAY: _is_bcd(0, 6),
    DAY: _is_bcd(1, 31),
    MONTH: _is_bcd(1, 12),
    YEAR: _is_bcd(0, 99),
    UNLOCK: lambda value: value == KEY,
    SCHEDULER: lambda value: value in {ENABLED, DISABLED},
    **{first + at: takes for first in SLOTS[::SLOT_SIZE] for at, takes in enumerate(_OF_A_SLOT)},
}
"""Every register that can be written, and what it takes."""


def _clock_registers(shown: datetime) -> Registers:
    fields = (shown.second, shown.minute, shown.hour, shown.isoweekday() % 7, shown.day, shown.month, shown.year - 2000)
    return dict(zip(CLOCK, map(_bcd, fields), strict=True))


def _clock_from(image: Registers) -> datetime:
    second, minute, hour, _, day, month, year = (_of_bcd(image[at]) for at in CLOCK)
    return datetime(2000 + year, month, day, hour, minute, second)  # noqa: DTZ001 - local, without a zone


type Row = tuple[int, str, Callable[[Readings], float]]
"""First register, format of `struct`, raw value."""

_ROWS: tuple[Row, ...] = (
    (0x10, "H", lambda _: 8),
    (0x20, "H", lambda r: abs(r.battery_w)),
    (0x21, "H", lambda r: 1 if r.battery_w >= 0.5 else 2 if r.battery_w <= -0.5 else 0),
    (0x22, "H", lambda r: r.battery_v * 100),
    (0x23, "H", lambda r: r.level * 10),
    (0x24, "H", lambda r: r.battery_celsius + 40),
    (0x26, "i", lambda r: r.grid_w),
    (0x28, "I", lambda r: r.totals.charged // 100),
    (0x2A, "I", lambda r: r.totals.discharged // 100),
    # State 2 runs, 1 is idle; the document does not say what a reason means.
    (0x30, "H", lambda r: 5 << 4 | 1 + r.state),
)
_HIGH_FIRST = {0x28}


def _input_registers(readings: Readings) -> dict[int, int]:
    text = readings.serial.encode().ljust(20, b"\0")
    registers = {at: text[2 * at + 1] << 8 | text[2 * at] for at in range(10)}
    for first, form, raw in _ROWS:
        octets = struct.pack(f">{form}", round(raw(readings)))
        words = struct.unpack(f">{len(octets) // 2}H", octets)
        registers |= dict(enumerate(words if first in _HIGH_FIRST else words[::-1], first))
    return registers


PEBBLEMOOR = Make(
    serial="PM8-AM-2611-0000{:04d}",
    input=INPUT,
    holding=frozenset({RATED_POWER, *_TAKES}),
    at_start=HOLDING_AT_START,
    writable=frozenset(_TAKES),
    writes=frozenset({WRITE_ONE, WRITE_SEVERAL}),
    clock=CLOCK,
    clock_second=SECOND,
    clock_weekday=WEEKDAY,
    clock_waits=True,
    keeps_utc=False,
    clock_registers=_clock_registers,
    clock_from=_clock_from,
    schedule=tuple(SLOTS),
    armed=lambda holding: holding[SCHEDULER] == ENABLED,
    duty=_duty,
    highest_charge_w=lambda _: float(_RATED_W),
    backup_on=lambda _: False,
    refuses=lambda image, address: not _TAKES[address](image[address]),
    input_registers=_input_registers,
    lock=Lock(register=UNLOCK, key=KEY, seconds=LOCKED_AGAIN_S, guards=frozenset({*CLOCK, SCHEDULER, *SLOTS}), code=4),
    slots=Slots(addresses=SLOTS, size=SLOT_SIZE),
)
