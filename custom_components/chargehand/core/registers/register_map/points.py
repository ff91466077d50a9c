"""Points: where an inverter keeps one value, and how it is written down there."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum

from .number_types import NUMBERS, TEXT, NumberType, bit_pattern, swapped
from .scaling import scaled
from .text_registers import text_of, text_registers
from .value_refused import ValueRefused


class Table(StrEnum):
    """The two tables of 16-bit registers (Modbus Application Protocol V1.1b3, 4.3)."""

    INPUT = "input"
    """Input registers, read with function 4."""

    HOLDING = "holding"
    """Holding registers, read with function 3, written with 6 and 16."""


type Address = tuple[Table, int]
"""A register: its table, and its address as on the wire, counted from 0."""

type Group = tuple[Address, ...]
"""Registers of one value: they come in one read."""

type Raw = Mapping[Address, int]
"""Registers as read: unsigned 16-bit numbers by address."""

type Value = float | int | bool | str

LARGEST_POWER = 10
"""SunSpec's scale factors run from −10 to 10 (from memory); anything else is "not implemented" or nonsense."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Point:
    """One value in registers: a number, a text, a flag (`bit`) or a small number within a register (`bits`).

    Value = raw × `scale` × 10^(register at `scale_at`) + `offset`. `invalid` lists raw values that mean "no value":
    as the type reads them, for a float its bit pattern.
    """

    table: Table
    first: int
    type: str = "u16"
    length: int = 1
    words: tuple[int, ...] = ()
    """Its registers, most significant first, where they do not follow each other; `first` is the first of them."""

    low_first: bool = False
    """Whether the least significant of several registers comes first."""

    low_byte_first: bool = False
    """Whether the low byte of each register comes before its high byte."""

    bits: tuple[int, int] | None = None
    """Lowest and highest bit taken, 0 = least significant; equal for a flag."""

    flag: bool = False
    on_off: tuple[int, int] | None = None
    """The raw values of a flag that takes more than a bit: on, then off. Any other is neither."""

    scale: Decimal = Decimal(1)
    offset: Decimal = Decimal(0)
    scale_at: Address | None = None
    percent_of: Point | None = None
    """The value of which this one is a percentage, so that it is (raw × `scale` + `offset`) × that value / 100."""

    invalid: frozenset[int] = field(default_factory=frozenset)

    addresses: tuple[Address, ...] = field(init=False, repr=False, compare=False)
    """The registers that hold the value itself: what is written, and what belongs into one read."""

    _in_order: tuple[Address, ...] = field(init=False, repr=False, compare=False)
    """The same, as `_number_type` takes them: most significant first."""

    _number_type: NumberType = field(init=False, repr=False, compare=False)
    _is_float: bool = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Work out once what every poll asks for."""
        # A text has no number type; it is decoded before one is asked for.
        kind = NUMBERS["u16" if self.type == TEXT else self.type]
        numbers = self.words or range(self.first, self.first + self.length)
        stretch = tuple((self.table, number) for number in numbers)
        object.__setattr__(self, "addresses", stretch)
        object.__setattr__(self, "_in_order", stretch[::-1] if self.low_first and self.type != TEXT else stretch)
        object.__setattr__(self, "_number_type", kind)
        object.__setattr__(self, "_is_float", self.bits is None and kind.is_float)

    @property
    def parts(self) -> tuple[Point, ...]:
        """The points that it is made of: itself."""
        return (self,)

    @property
    def groups(self) -> tuple[Group, ...]:
        """All registers needed to decode, by what comes in one read: its own, and those that scale it. These are never written."""
        scales = () if self.scale_at is None else ((self.scale_at,),)
        return (self.addresses, *scales, *(() if self.percent_of is None else self.percent_of.groups))

    def decode(self, raw: Raw) -> Value | None:
        """Return the value; None when a register is missing or says that there is none. Never raises."""
        try:
            registers = [raw[address] for address in self._in_order]
        except KeyError:
            return None
        if self.low_byte_first:
            registers = [swapped(register) for register in registers]
        if self.type == TEXT:
            return text_of(registers)
        number = self._raw_number(registers)
        if number is None:
            return None
        if self.flag and self.on_off is not None:
            # Any other value is neither.
            return number == self.on_off[0] if number in self.on_off else None
        if self.flag:
            return bool(number)
        scale = self._scale(raw)
        return None if scale is None else scaled(number, scale, self._offset(scale))

    def encode(self, value: Value, raw: Raw) -> dict[Address, int]:
        """Return the registers that hold `value`; a flag or small number is merged into the register in `raw`.

        Raises ValueRefused when the value cannot be written down there, ValueError when `raw` lacks a register needed for it.
        """
        if self.type == TEXT:
            return self._written(text_registers(value, self.length))
        number = self._to_raw(value, raw)
        if self.bits is not None:
            return self._merged(int(number), raw)
        try:
            registers = self._number_type.pack(number)
        except OverflowError as error:
            raise self._unfit(value) from error
        written = self._written(registers)
        if self.invalid and self.decode({**raw, **written}) is None:
            raise ValueRefused("value_means_none", value=value)
        return written

    def rounded(self, value: Value, raw: Raw | None = None) -> Value:
        """Return what would really be stored for `value`. Raises as `encode` does."""
        held = dict.fromkeys(self.addresses, 0) | dict(raw or {})
        stored = self.decode(held | self.encode(value, held))
        return value if stored is None else stored

    def nearest(self, value: float, low: float, high: float, raw: Raw | None = None) -> float | None:
        """Return what would be stored for `value`, kept from `low` to `high`; None when that cannot be.

        A value within that would be rounded out of it is rounded the other way; one outside has to be rounded into it.
        Raises ValueRefused when the power of ten that it is kept with is not known.
        """
        scale = self._known_scale(raw or {})
        offset = self._offset(scale)
        exact = (Decimal(str(value)) - offset) / scale
        if not exact.is_finite():
            return None
        lowest, highest = self._raw_range()
        kind = self._number_type
        number: float = kind.stored(float(exact)) if self._is_float else int(exact.to_integral_value())
        for near in (number, *(kind.beside(number) if low <= value <= high else ())):
            if lowest <= near <= highest and low <= (stored := scaled(near, scale, offset)) <= high:
                return stored
        return None

    def step(self, raw: Raw) -> float:
        """Return the least difference that the registers can hold, at the fixed scale where another one is not known."""
        return abs(float(self._scale(raw) or self.scale))

    def range(self) -> tuple[float, float]:
        """Lowest and highest value that the registers can hold, at the fixed scale."""
        ends = [scaled(end, self.scale, self.offset) for end in self._raw_range()]
        return min(ends), max(ends)

    def _raw_range(self) -> tuple[float, float]:
        if self.bits is not None:
            return 0, (1 << (self.bits[1] - self.bits[0] + 1)) - 1
        return self._number_type.lowest, self._number_type.highest

    def _raw_number(self, registers: list[int]) -> float | None:
        pattern = bit_pattern(registers)
        number: float | None
        if self.bits is not None:
            low, high = self.bits
            number = (pattern >> low) & ((1 << (high - low + 1)) - 1)
        else:
            number = self._number_type.number(pattern)
        return None if (pattern if self._is_float else number) in self.invalid else number

    def _scale(self, raw: Raw) -> Decimal | None:
        if self.percent_of is not None:
            whole = self.percent_of.decode(raw)
            return self.scale * Decimal(str(whole)) / 100 if isinstance(whole, int | float) and whole > 0 else None
        if self.scale_at is None:
            return self.scale
        if self.scale_at not in raw:
            return None
        power = NUMBERS["s16"].as_read(raw[self.scale_at])
        return self.scale.scaleb(power) if abs(power) <= LARGEST_POWER else None

    def _offset(self, scale: Decimal) -> Decimal:
        """Return what is added after a scale that was found: of a percentage, `offset` is as many per cent."""
        return self.offset if self.percent_of is None else self.offset * scale / self.scale

    def _known_scale(self, raw: Raw) -> Decimal:
        scale = self._scale(raw)
        if scale is None:
            raise ValueRefused("scale_unknown")
        return scale

    def _to_raw(self, value: Value, raw: Raw) -> float:
        if self.flag:
            if value not in (0, 1):
                raise ValueRefused("value_not_on_or_off", value=f"{value!r:.40}")
            return int(value) if self.on_off is None else self.on_off[0 if value else 1]
        if isinstance(value, bool | str):
            raise ValueRefused("value_no_number", value=f"{value!r:.40}")
        scale = self._known_scale(raw)
        exact = (Decimal(str(value)) - self._offset(scale)) / scale
        if not exact.is_finite():
            raise ValueRefused("value_no_number", value=value)
        number: float = float(exact) if self._is_float else int(exact.to_integral_value())
        low, high = self._raw_range()
        if not self._is_float and not low <= number <= high:
            raise self._unfit(value)
        return number

    def _written(self, registers: list[int]) -> dict[Address, int]:
        """Return registers, most significant first, as they stand in the inverter, in the order of their addresses."""
        if self.low_byte_first:
            registers = [swapped(register) for register in registers]
        held = dict(zip(self._in_order, registers, strict=True))
        return {address: held[address] for address in self.addresses}

    def _unfit(self, value: Value) -> ValueRefused:
        low, high = self.range()
        return ValueRefused("value_not_fitting", value=value, minimum=f"{low:g}", maximum=f"{high:g}")

    def _merged(self, number: int, raw: Raw) -> dict[Address, int]:
        low, high = self.bits or (0, 15)
        address = (self.table, self.first)
        if address not in raw:
            raise ValueError(f"register {self.first} has to be read before a part of it is written")
        mask = ((1 << (high - low + 1)) - 1) << low
        return {address: (raw[address] & ~mask & 0xFFFF) | (number << low)}
