"""Ways to read registers that nobody has described yet: every number type, text, time layout and clock. One more is one row."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from enum import Enum, auto
from functools import partial

from ..register_map import (
    CLOCK_LAYOUTS,
    NUMBERS,
    TEXT,
    TIME_LAYOUTS,
    ClockPoint,
    Table,
    TimePoint,
    bit_pattern,
    text_of,
)
from .stretch import registers_at

YEARS = range(2020, 2080)
"""Years that the clock of an inverter in use shows; anything else in its layout is chance."""

FLOATS = (1e-4, 1e8)
"""Sizes of a measured value in any usual unit; a float beyond is two whole numbers side by side."""

OLDEST_FULL_YEAR = 1970

type Shown = int | float | str


class Kind(Enum):
    """What a way makes of registers."""

    NUMBER = auto()
    FLOAT = auto()
    TEXT = auto()
    TIME = auto()
    CLOCK = auto()


@dataclass(frozen=True, kw_only=True, slots=True)
class Way:
    """A row: the map's word for it, how many registers it takes, and what they say so; None where that makes no sense."""

    kind: Kind
    name: str
    registers: int
    read: Callable[[Sequence[int]], Shown | None]
    word_order: str | None = None
    """As the map's line section says it; None where there is one order only."""

    @property
    def key(self) -> str:
        """Its name among decodings."""
        return self.name if self.word_order is None else f"{self.name}_{self.word_order}"

    @property
    def field(self) -> str:
        """The key that it has in a register map: `type` or `layout`."""
        return "layout" if self.kind in {Kind.TIME, Kind.CLOCK} else "type"


def _number(name: str, registers: Sequence[int]) -> Shown | None:
    return NUMBERS[name].number(bit_pattern(registers))


def _low_first(name: str, registers: Sequence[int]) -> Shown | None:
    return _number(name, registers[::-1])


def _float(registers: Sequence[int]) -> Shown | None:
    number = NUMBERS["f32"].number(bit_pattern(registers))
    return number if number is not None and (number == 0 or FLOATS[0] <= abs(number) < FLOATS[1]) else None


def _time(layout: str, registers: Sequence[int]) -> str | None:
    point = TimePoint(table=Table.HOLDING, first=0, layout=layout)
    minute = point.decode(dict(zip(point.addresses, registers, strict=True)))
    return None if minute is None else "{:02d}:{:02d}".format(*divmod(minute, 60))


def _clock(layout: str, registers: Sequence[int], *, low_first: bool = False) -> str | None:
    full_year = layout == "six_registers" and registers[0] >= OLDEST_FULL_YEAR
    point = ClockPoint(first=0, layout=layout, year_base=0 if full_year else 2000, low_first=low_first)
    time = point.decode(dict(zip(point.addresses, registers, strict=True)))
    return f"{time:%Y-%m-%d %H:%M:%S}" if time is not None and time.year in YEARS else None


def _in_both_orders(
    kind: Kind, name: str, read: Callable[[Sequence[int]], Shown | None], other: Callable[[Sequence[int]], Shown | None]
) -> tuple[Way, Way]:
    return (
        Way(kind=kind, name=name, registers=2, read=read, word_order="high_first"),
        Way(kind=kind, name=name, registers=2, read=other, word_order="low_first"),
    )


WAYS: tuple[Way, ...] = (
    *(Way(kind=Kind.NUMBER, name=name, registers=1, read=partial(_number, name)) for name in ("u16", "s16")),
    *_in_both_orders(Kind.NUMBER, "u32", partial(_number, "u32"), partial(_low_first, "u32")),
    *_in_both_orders(Kind.NUMBER, "s32", partial(_number, "s32"), partial(_low_first, "s32")),
    *_in_both_orders(Kind.FLOAT, "f32", _float, lambda registers: _float(registers[::-1])),
    Way(kind=Kind.TEXT, name=TEXT, registers=1, read=text_of),
    *(
        Way(kind=Kind.TIME, name=name, registers=layout.registers, read=partial(_time, name))
        for name, layout in TIME_LAYOUTS.items()
    ),
    *(
        Way(kind=Kind.CLOCK, name=name, registers=layout.registers, read=partial(_clock, name))
        for name, layout in CLOCK_LAYOUTS.items()
        if name != "unix"
    ),
    *_in_both_orders(Kind.CLOCK, "unix", partial(_clock, "unix"), partial(_clock, "unix", low_first=True)),
)
"""Types and layouts as a register map names them."""


def decodings(values: Mapping[int, int], first: int) -> dict[str, Shown]:
    """Return what the registers from `first` on say in every way that makes sense; longer ways only where all were read."""
    found: dict[str, Shown] = {}
    for way in WAYS:
        registers = registers_at(values, first, way.registers)
        shown = None if registers is None else way.read(registers)
        if shown is not None:
            found[way.key] = shown
    return found
