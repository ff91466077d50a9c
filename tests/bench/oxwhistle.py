"""The register table of the Oxwhistle OW-4, invented and written by hand from its document; addresses as on the wire, from 0.

Register 11 of the document is 10 here. All of it is holding registers; long values have their lower 16 bits first, the fault word too. What
the document leaves open, and what this inverter does: each time of the list is later than the one before, or the write is refused with 03,
as is one that is on no step of 5 minutes; registers between those that are listed read 0, those far from them answer 02; the days are those
that the clock shows, also in a part that began the evening before; without the list it follows the load down to 15 %. In a part it does so
within the part's power and down to the part's level, and below that level charges from the grid where charging is on. It has no generator.
"""

import struct
from collections.abc import Callable
from datetime import datetime
from itertools import pairwise

from tests.bench.make import Make, Registers
from tests.bench.readings import Readings
from tests.bench.request import WRITE_SEVERAL
from tests.bench.schedule import Duty, Task, minute_of_day

_MEASURED = frozenset(
    {*range(10, 15), 30, *range(34, 38), *range(400, 405), 410, 411, *range(420, 423), 430, 431},
)
CLOCK = range(819, 822)
LIST_ENABLED = 829
TIMES, POWERS, LEVELS, CHARGING = range(830, 836), range(840, 846), range(850, 856), range(860, 866)
GRID_CHARGE_CURRENT = 870
HOLDING = frozenset({*range(10, 38), *range(400, 432), *range(CLOCK[0], GRID_CHARGE_CURRENT + 1)})
SCHEDULE = (LIST_ENABLED, *TIMES, *POWERS, *LEVELS, *CHARGING)

_MOST_POWER = 4600
_LEAST_LEVEL = 15
_STEP = 5
_LAST_TIME = 2355
# The document numbers the bits of the fault word from 1, and names none.
_TOO_HOT, _TOO_COLD = 1 << 20 - 1, 1 << 53 - 1


def _in_a_row(addresses: range, values: tuple[int, ...]) -> dict[int, int]:
    return dict(zip(addresses, values, strict=True))


HOLDING_AT_START = {
    # On, on every day.
    LIST_ENABLED: 0xFF,
    **_in_a_row(TIMES, (30, 430, 700, 1200, 1700, 2100)),
    **_in_a_row(POWERS, (3000, 4600, 4600, 4600, 2500, 4600)),
    **_in_a_row(LEVELS, (90, 20, 20, 20, 25, 40)),
    # Part 6 would charge from a generator.
    **_in_a_row(CHARGING, (1, 0, 0, 0, 0, 2)),
    GRID_CHARGE_CURRENT: 60,
}


def _minute(time: int) -> int:
    return time // 100 * 60 + time % 100


def _duty(holding: Registers, shown: datetime) -> Duty:
    """Return what the part of the day asks for: the last whose time has come, before the first one's that of the evening before."""
    word = holding[LIST_ENABLED]
    if not word & 1 or not word >> shown.isoweekday() & 1:
        return Duty(task=Task.FOLLOW_LOAD, until=float(_LEAST_LEVEL))
    begun = [at for at, address in enumerate(TIMES) if _minute(holding[address]) <= minute_of_day(shown)]
    part = begun[-1] if begun else len(TIMES) - 1
    return Duty(
        task=Task.KEEP_LEVEL,
        amps=float(holding[GRID_CHARGE_CURRENT]),
        watts=float(holding[POWERS[part]]),
        until=float(holding[LEVELS[part]]),
        from_grid=bool(holding[CHARGING[part]] & 1),
        by=f"part {part + 1}",
    )


def _is_time(value: int) -> bool:
    return value <= _LAST_TIME and value % 100 < 60 and value % _STEP == 0


def _is_power(value: int) -> bool:
    return value <= _MOST_POWER


def _is_level(value: int) -> bool:
    return _LEAST_LEVEL <= value <= 100


_TAKES: dict[int, Callable[[int], bool]] = {
    **dict.fromkeys(CLOCK, lambda _: True),
    LIST_ENABLED: lambda value: value <= 0xFF,
    **dict.fromkeys(TIMES, _is_time),
    **dict.fromkeys(POWERS, _is_power),
    **dict.fromkeys(LEVELS, _is_level),
    **dict.fromkeys(CHARGING, lambda value: value <= 0b11),
    GRID_CHARGE_CURRENT: lambda value: value <= 120,
}
"""Every register that can be written, and what it takes."""


def _refuses(image: Registers, address: int) -> bool:
    descends = address in TIMES and any(image[one] >= image[next_one] for one, next_one in pairwise(TIMES))
    return descends or not _TAKES[address](image[address])


def _clock_registers(shown: datetime) -> Registers:
    pairs = ((shown.year - 2000, shown.month), (shown.day, shown.hour), (shown.minute, shown.second))
    return {at: high << 8 | low for at, (high, low) in zip(CLOCK, pairs, strict=True)}


def _clock_from(image: Registers) -> datetime:
    (year, month), (day, hour), (minute, second) = (divmod(image[at], 256) for at in CLOCK)
    if year > 99:
        raise ValueError("the year has two digits")
    return datetime(2000 + year, month, day, hour, minute, second)  # noqa: DTZ001 - local, without a zone


def _phases(grid_w: float) -> tuple[int, int, int]:
    """Return what each phase takes in W: half, three tenths, and the rest."""
    first, second = round(0.5 * grid_w), round(0.3 * grid_w)
    return first, second, round(grid_w) - first - second


type Row = tuple[int, str, Callable[[Readings], float]]
"""First register, format of `struct`, raw value."""

_ROWS: tuple[Row, ...] = (
    # An alarm, or normal.
    (30, "H", lambda r: 3 if r.alarms else 2),
    (34, "Q", lambda r: (r.alarms & 1) * _TOO_HOT | (r.alarms >> 1 & 1) * _TOO_COLD),
    (400, "H", lambda r: r.battery_celsius * 10 + 1000),
    (401, "H", lambda r: r.battery_v * 100),
    (402, "H", lambda r: r.level),
    (403, "h", lambda r: -r.battery_w),
    (404, "h", lambda r: -r.battery_a * 100),
    (410, "H", lambda r: r.string_1_w),
    (411, "H", lambda r: r.string_2_w),
    (420, "h", lambda r: _phases(r.grid_w)[0]),
    (421, "h", lambda r: _phases(r.grid_w)[1]),
    (422, "h", lambda r: _phases(r.grid_w)[2]),
    (430, "I", lambda r: r.totals.imported // 100),
)


def _measured(readings: Readings) -> dict[int, int]:
    text = readings.serial.encode()
    registers = {10 + at: text[2 * at] << 8 | text[2 * at + 1] for at in range(5)}
    for first, form, raw in _ROWS:
        octets = struct.pack(f">{form}", round(raw(readings)))
        words = struct.unpack(f">{len(octets) // 2}H", octets)
        registers |= dict(enumerate(reversed(words), first))
    return registers


OXWHISTLE = Make(
    serial="OW4-A-{:04d}",
    input=frozenset(),
    holding=HOLDING,
    at_start=HOLDING_AT_START,
    writable=frozenset(_TAKES),
    writes=frozenset({WRITE_SEVERAL}),
    clock=CLOCK,
    clock_second=CLOCK[-1],
    keeps_utc=False,
    clock_registers=_clock_registers,
    clock_from=_clock_from,
    schedule=SCHEDULE,
    armed=lambda holding: bool(holding[LIST_ENABLED] & 1),
    duty=_duty,
    highest_charge_w=lambda _: float(_MOST_POWER),
    backup_on=lambda _: False,
    refuses=_refuses,
    input_registers=_measured,
    in_holding=_MEASURED,
)
