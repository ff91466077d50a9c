"""What changed between two readings of the same registers, and which values each change could mean, most plausible first."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal

from .interpretations import WAYS, Kind, Shown, Way
from .stretch import registers_at

SMALL = 100
"""Numbers up to it are percentages and choices more often than times (common practice, no source)."""

LARGEST_USUAL = 10_000_000
"""Energy in Wh, power in W and counts stay below it for years; beyond, two registers are likelier to be two values."""

MOST_DIGITS = 4
"""Significant digits of a setting made by hand: 51.25 is one, 4.3210987 is none."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Meaning:
    """One thing that a change could mean: `way` of the registers from `first` on, or one `bit` of it."""

    first: int
    was: Shown
    now: Shown
    score: int
    """How plausible, by rules of thumb; only the order means anything."""

    way: Way | None = None
    bit: int | None = None

    @property
    def is_clock(self) -> bool:
        """Whether it is a clock that ran on."""
        return self.way is not None and self.way.kind is Kind.CLOCK


@dataclass(frozen=True, kw_only=True, slots=True)
class Change:
    """A register that holds something else now. Addresses as on the wire."""

    register: int
    was: int
    now: int
    meanings: tuple[Meaning, ...]

    @property
    def flipped(self) -> tuple[int, ...]:
        """Its bits that flipped, 0 = least significant."""
        return tuple(bit for bit in range(16) if (self.was ^ self.now) >> bit & 1)


def changes(before: Mapping[int, int], after: Mapping[int, int]) -> tuple[Change, ...]:
    """Return registers read both times that differ: settings first, what is likely a running clock last."""
    found = [
        Change(
            register=register, was=before[register], now=after[register], meanings=_meanings(before, after, register)
        )
        for register in sorted(before.keys() & after.keys())
        if before[register] != after[register]
    ]
    return tuple(
        sorted(
            found,
            key=lambda change: (change.meanings[0].is_clock, -change.meanings[0].score, change.register),
        )
    )


def _meanings(before: Mapping[int, int], after: Mapping[int, int], register: int) -> tuple[Meaning, ...]:
    """Everything that covers this register and differs. Never empty: `u16` always does."""
    found = _bits(before[register], after[register], register)
    for way in WAYS:
        for first in range(register - way.registers + 1, register + 1):
            was, now = registers_at(before, first, way.registers), registers_at(after, first, way.registers)
            if was is None or now is None:
                continue
            shown_was, shown_now = way.read(was), way.read(now)
            if shown_was is None or shown_now is None or shown_was == shown_now:
                continue
            if way.name in {"s16", "s32"} and not _negative(shown_was, shown_now):
                # It says just what the unsigned one does.
                continue
            score = _score(way, (was, now), (shown_was, shown_now))
            found.append(Meaning(first=first, was=shown_was, now=shown_now, score=score, way=way))
    return tuple(sorted(found, key=lambda meaning: -meaning.score))


def _bits(was: int, now: int, register: int) -> list[Meaning]:
    """Return a single bit that flipped; several at once are a number."""
    flipped = was ^ now
    if flipped.bit_count() != 1:
        return []
    bit = flipped.bit_length() - 1
    score = 8 if flipped == 1 and was | now == 1 else 7 if 0 in {was, now} else 5
    return [Meaning(first=register, was=was >> bit & 1, now=now >> bit & 1, score=score, bit=bit)]


def _score(way: Way, registers: tuple[Sequence[int], Sequence[int]], shown: tuple[Shown, Shown]) -> int:
    match way.kind:
        case Kind.CLOCK:
            return _clock_score(way, shown)
        case Kind.TIME:
            return _time_score(way, registers, shown)
        case Kind.FLOAT:
            return _float_score(registers, shown)
        case Kind.NUMBER:
            return _short_score(way, registers) if way.registers == 1 else _long_score(registers, shown)
        case Kind.TEXT:
            return 1


def _clock_score(way: Way, shown: tuple[Shown, Shown]) -> int:
    """Six or three registers that are a date are no chance; two that are seconds since 1970 have to have run on, too."""
    if way.registers > 2:
        return 11
    was, now = (datetime.fromisoformat(str(one)) for one in shown)
    return 8 if timedelta(0) < now - was < timedelta(days=1) else 1


def _time_score(way: Way, registers: tuple[Sequence[int], Sequence[int]], shown: tuple[Shown, Shown]) -> int:
    """Return a time that somebody set is round; one whose hour stays 0, or that is small as one number, is rarely a time at all."""
    texts = [str(one) for one in shown]
    hourless = all(text.startswith("00:") for text in texts)
    small = way.registers == 1 and max(registers[0][0], registers[1][0]) <= SMALL
    if hourless or small:
        return 2
    return 10 if all(text[-1] in "05" for text in texts) else 4


def _short_score(way: Way, registers: tuple[Sequence[int], Sequence[int]]) -> int:
    if not _looks_negative(registers):
        return 6
    return 5 if way.name == "s16" else 3


def _looks_negative(registers: tuple[Sequence[int], Sequence[int]]) -> bool:
    return any(one[0] >= 0x8000 for one in registers)


def _long_score(registers: tuple[Sequence[int], Sequence[int]], shown: tuple[Shown, Shown]) -> int:
    """Two registers that changed together are one value; one that changed beside a 0 may well be alone."""
    was, now = registers
    if any(abs(float(one)) >= LARGEST_USUAL for one in shown):
        return 0
    together = all(one != other for one, other in zip(was, now, strict=True))
    # With its high word 0 both times it is the same number as the register alone.
    return 7 if together else 2


def _float_score(registers: tuple[Sequence[int], Sequence[int]], shown: tuple[Shown, Shown]) -> int:
    """Return a pair that is a short decimal both times is no chance; one with an empty half may be."""
    was, now = registers
    if any(len(Decimal(repr(one)).normalize().as_tuple().digits) > MOST_DIGITS for one in shown):
        return 1
    return 9 if all(any(half) for half in zip(was, now, strict=True)) else 5


def _negative(*shown: Shown) -> bool:
    return any(isinstance(one, int | float) and one < 0 for one in shown)
