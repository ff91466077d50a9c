"""Layouts: how clocks are written down. Adding one is adding a row."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

from .points import Address, Group, Raw, Table
from .value_refused import ValueRefused

_DATE_AND_TIME = ("year", "month", "day", "hour", "minute", "second")
_FROM_SECONDS = ("second", "minute", "hour", "day", "month", "year")
_WITH_WEEKDAY = ("second", "minute", "hour", "weekday", "day", "month", "year")

WEEKDAYS: Mapping[str, tuple[int, int]] = {
    "sunday_0": (6, 0),
    "sunday_1": (6, 1),
    "monday_0": (0, 0),
    "monday_1": (0, 1),
}
"""How weekdays are counted: the first day of the week (Monday is 0, as `datetime` has it), and its number."""


@dataclass(frozen=True, slots=True)
class ClockLayout:
    """A row: registers taken, and the way from and to a naive time and its year base.

    `read` raises ValueError on nonsense. `write` takes the number of the weekday too; it raises OverflowError for a year that does not fit.
    """

    registers: int
    read: Callable[[Sequence[int], int], datetime]
    write: Callable[[datetime, int, int], tuple[int, ...]]
    has_weekday: bool = False


def _a_register_each(*fields: str, bcd: bool = False) -> ClockLayout:
    """Return a layout of a register for each of these fields of a time, in BCD or not.

    A weekday that is read is left out: the date tells it too, and on some inverters nobody ever set it.
    """

    def read(at: Sequence[int], base: int) -> datetime:
        held = dict(zip(fields, at, strict=True))
        return _time([_from_bcd(held[field]) if bcd else held[field] for field in _DATE_AND_TIME], base)

    def write(time: datetime, base: int, weekday: int) -> tuple[int, ...]:
        year = time.year - base
        # Two digits, unless the whole year is kept.
        if bcd and base and year > 99:
            raise OverflowError
        numbers = [{"year": year, "weekday": weekday}.get(field, getattr(time, field)) for field in fields]
        return tuple(int(str(number), 16) for number in numbers) if bcd else tuple(numbers)

    return ClockLayout(len(fields), read, write, has_weekday="weekday" in fields)


def _time(numbers: Sequence[int], base: int) -> datetime:
    year, month, day, hour, minute, second = numbers
    return datetime(base + year, month, day, hour, minute, second)  # noqa: DTZ001 - the clock's own keeping


def _from_bcd(register: int) -> int:
    """Return what a register says in hexadecimal digits. Raises ValueError when one of them is none of 0 to 9."""
    return int(f"{register:x}")


def _three(at: Sequence[int], base: int) -> datetime:
    return _time([part for register in at for part in divmod(register, 256)], base)


def _from_unix(at: Sequence[int], _base: int) -> datetime:
    return datetime.fromtimestamp(at[0] * 65536 + at[1], UTC).replace(tzinfo=None)


def _to_unix(time: datetime, _base: int, _weekday: int) -> tuple[int, ...]:
    return divmod(int(time.replace(tzinfo=UTC).timestamp()), 65536)


CLOCK_LAYOUTS = {
    "six_registers": _a_register_each(*_DATE_AND_TIME),
    "six_registers_bcd": _a_register_each(*_DATE_AND_TIME, bcd=True),
    "seconds_first": _a_register_each(*_FROM_SECONDS),
    "seconds_first_bcd": _a_register_each(*_FROM_SECONDS, bcd=True),
    "seconds_first_weekday": _a_register_each(*_WITH_WEEKDAY),
    "seconds_first_weekday_bcd": _a_register_each(*_WITH_WEEKDAY, bcd=True),
    "three_bytes": ClockLayout(
        3,
        _three,
        lambda time, base, _weekday: (
            (time.year - base) * 256 + time.month,
            time.day * 256 + time.hour,
            time.minute * 256 + time.second,
        ),
    ),
    "unix": ClockLayout(2, _from_unix, _to_unix),
}
"""Clocks; common practice in the trade, no source. `unix` counts seconds from 1970 in the clock's own keeping."""


@dataclass(frozen=True, kw_only=True, slots=True)
class ClockPoint:
    """Where the clock is kept."""

    first: int
    layout: str
    year_base: int = 2000
    low_first: bool = False
    weekdays: str = "monday_0"
    """How the weekday is counted, where the layout has one."""

    table: Table = Table.HOLDING

    @property
    def addresses(self) -> tuple[Address, ...]:
        """The registers it takes."""
        return tuple((self.table, self.first + index) for index in range(CLOCK_LAYOUTS[self.layout].registers))

    @property
    def groups(self) -> tuple[Group, ...]:
        """The same as what comes in one read."""
        return (self.addresses,)

    def decode(self, raw: Raw) -> datetime | None:
        """Return the time shown, naive; None when the registers are missing or hold no time. Never raises."""
        registers = [raw[address] for address in self.addresses if address in raw]
        if len(registers) != len(self.addresses):
            return None
        try:
            return CLOCK_LAYOUTS[self.layout].read(self._ordered(registers), self.year_base)
        except ValueError, OverflowError, OSError:
            return None

    def encode(self, time: datetime) -> dict[Address, int]:
        """Return the registers that hold a time. Raises ValueRefused when its year does not fit."""
        first, number = WEEKDAYS[self.weekdays]
        try:
            registers = CLOCK_LAYOUTS[self.layout].write(time, self.year_base, (time.weekday() - first) % 7 + number)
        except OverflowError:
            raise ValueRefused("clock_year", year=time.year) from None
        if not all(0 <= register <= 0xFFFF for register in registers):
            raise ValueRefused("clock_year", year=time.year)
        return dict(zip(self.addresses, self._ordered(registers), strict=True))

    def _ordered(self, registers: Sequence[int]) -> list[int]:
        return list(reversed(registers)) if self.low_first and self.layout == "unix" else list(registers)
