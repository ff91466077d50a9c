"""Number types: how many registers each takes and how its bytes are read, big-endian as Modbus has it (V1.1b3, 4.2)."""

import math
import struct
from collections.abc import Iterable
from dataclasses import dataclass

TEXT = "text"


@dataclass(frozen=True, slots=True)
class NumberType:
    """A row of the table of types. Registers are given and taken with the most significant first."""

    registers: int
    format: str
    lowest: float
    highest: float
    is_float: bool = False
    """Whether it holds an IEEE 754 number."""

    is_signed: bool = False
    """Whether it holds whole negative numbers."""

    def number(self, pattern: int) -> float | None:
        """Return the raw number that a bit pattern is; None for a float that is none (NaN, infinity)."""
        if not self.is_float:
            return self.as_read(pattern)
        number: float
        (number,) = struct.unpack(">f", pattern.to_bytes(4))
        return _shortest(number) if math.isfinite(number) else None

    def pack(self, number: float) -> list[int]:
        """Return the registers of a raw number. Raises OverflowError for a float too large for a single."""
        octets = struct.pack(f">{self.format}", number if self.is_float else int(number))
        return [int.from_bytes(octets[index : index + 2]) for index in range(0, len(octets), 2)]

    def stored(self, number: float) -> float:
        """Return the raw number that is there once this one was written; infinite where it is too large for a single."""
        if not self.is_float:
            return number
        try:
            stored = self.number(int.from_bytes(struct.pack(">f", number)))
        except OverflowError:
            stored = None
        return math.inf if stored is None else stored

    def beside(self, number: float) -> tuple[float, ...]:
        """Return the raw numbers next to one that can be stored, on both sides."""
        if not self.is_float:
            return number - 1, number + 1
        if math.isinf(number):
            return ()
        pattern = int.from_bytes(struct.pack(">f", number))
        # Sign and magnitude: the patterns beside 0 and beside the largest are no neighbours.
        around = [self.number(near) for near in (pattern - 1, pattern + 1) if near & 0x7FFFFFFF and pattern]
        return tuple(near for near in around if near is not None)

    def as_read(self, raw: int) -> int:
        """Return a raw value as a document prints it (0x8000) as this type reads it (−32768 when it is signed)."""
        return raw - (1 << 16 * self.registers) if self.is_signed and raw > self.highest else raw


def bit_pattern(registers: Iterable[int]) -> int:
    """Return registers as one unsigned number, most significant first."""
    pattern = 0
    for register in registers:
        pattern = pattern << 16 | register
    return pattern


def swapped(register: int) -> int:
    """Return a register with its bytes the other way round."""
    return (register & 0xFF) << 8 | register >> 8


def _shortest(single: float) -> float:
    """Return the number with fewest decimal digits that is this single: 51.2, not 51.20000076 (IEEE 754-2008, 5.12.2: nine do)."""
    for digits in range(6, 9):
        short = float(f"{single:.{digits}g}")
        if struct.pack(">f", short) == struct.pack(">f", single):
            return short
    return float(f"{single:.9g}")


def _whole(registers: int, letter: str, *, signed: bool) -> NumberType:
    size = 16 * registers
    return NumberType(
        registers, letter, -(2 ** (size - 1)) if signed else 0, 2 ** (size - signed) - 1, is_signed=signed
    )


NUMBERS = {
    "u16": _whole(1, "H", signed=False),
    "s16": _whole(1, "h", signed=True),
    "u32": _whole(2, "I", signed=False),
    "s32": _whole(2, "i", signed=True),
    "u64": _whole(4, "Q", signed=False),
    "s64": _whole(4, "q", signed=True),
    # The largest finite single, IEEE 754-2008: (2 − 2^−23) × 2^127.
    "f32": NumberType(2, "f", -3.4028234663852886e38, 3.4028234663852886e38, is_float=True),
}
