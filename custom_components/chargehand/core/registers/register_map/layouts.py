"""Layouts: how times of day are written down. Adding one is adding a row."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from .points import Address, Group, Raw, Table

DAY = 24 * 60


@dataclass(frozen=True, slots=True)
class TimeLayout:
    """A row: registers taken, and the way from and to (hour, minute). `read` may return nonsense; the caller checks."""

    registers: int
    read: Callable[[Sequence[int]], tuple[int, int] | None]
    write: Callable[[int, int], tuple[int, ...]]


def _bcd_digits(register: int) -> tuple[int, int] | None:
    high, low = register >> 8, register & 0xFF
    digits = (high >> 4, high & 15, low >> 4, low & 15)
    return (digits[0] * 10 + digits[1], digits[2] * 10 + digits[3]) if max(digits) < 10 else None


TIME_LAYOUTS = {
    "hour_minute": TimeLayout(2, lambda at: (at[0], at[1]), lambda hour, minute: (hour, minute)),
    "packed": TimeLayout(1, lambda at: divmod(at[0], 256), lambda hour, minute: (hour * 256 + minute,)),
    "hhmm": TimeLayout(1, lambda at: divmod(at[0], 100), lambda hour, minute: (hour * 100 + minute,)),
    "bcd": TimeLayout(1, lambda at: _bcd_digits(at[0]), lambda hour, minute: (int(f"{hour:02d}{minute:02d}", 16),)),
    "minutes": TimeLayout(1, lambda at: divmod(at[0], 60), lambda hour, minute: (hour * 60 + minute,)),
}
"""Times of day; all common practice in the trade, no source."""


@dataclass(frozen=True, kw_only=True, slots=True)
class TimePoint:
    """Where a time of day is kept."""

    table: Table
    first: int
    layout: str
    unused: tuple[int, ...] = ()
    """What each of its registers holds while its window is unused, the value to write first; empty: nothing but times."""

    addresses: tuple[Address, ...] = field(init=False, repr=False, compare=False)
    """The registers it takes."""

    def __post_init__(self) -> None:
        """Work out once what every poll asks for."""
        length = TIME_LAYOUTS[self.layout].registers
        object.__setattr__(self, "addresses", tuple((self.table, self.first + index) for index in range(length)))

    @property
    def groups(self) -> tuple[Group, ...]:
        """The same as what comes in one read."""
        return (self.addresses,)

    def decode(self, raw: Raw) -> int | None:
        """Minute of the day, 0…1440; None when the registers are missing or hold no time. Never raises."""
        registers = [raw[address] for address in self.addresses if address in raw]
        if len(registers) != len(self.addresses):
            return None
        time = TIME_LAYOUTS[self.layout].read(registers)
        if time is None or time[1] > 59 or time[0] * 60 + time[1] > DAY:
            return None
        return time[0] * 60 + time[1]

    def says_unused(self, raw: Raw) -> bool:
        """Whether the registers hold what marks an unused window."""
        return any(all(raw.get(address) == value for address in self.addresses) for value in self.unused)

    @property
    def blank(self) -> dict[Address, int]:
        """The registers while the window is unused: as the map marks that, else at 00:00."""
        return dict.fromkeys(self.addresses, self.unused[0]) if self.unused else self.encode(0)

    def encode(self, minute: int) -> dict[Address, int]:
        """Return the registers that hold a minute of the day. Raises ValueError outside 0…1440."""
        if not 0 <= minute <= DAY:
            raise ValueError(f"{minute} is no minute of a day")
        registers = TIME_LAYOUTS[self.layout].write(*divmod(minute, 60))
        return dict(zip(self.addresses, registers, strict=True))
