"""Numbers in registers against `struct`, the standard library's reading of big-endian integers and IEEE 754 singles.

Modbus sends a register high byte first (Modbus Application Protocol V1.1b3, 4.2). The order of registers within a longer
value is the maker's choice: high word first, or low word first (common practice, no source).
"""

import math
import struct
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from custom_components.chargehand.core.registers import Point, Table, ValueRefused

STRUCT = {"u16": ">H", "s16": ">h", "u32": ">I", "s32": ">i", "u64": ">Q", "s64": ">q", "f32": ">f"}
WHOLE = [kind for kind in STRUCT if kind != "f32"]


def point(kind: str = "u16", **more: object) -> Point:
    length = struct.calcsize(STRUCT.get(kind, ">H")) // 2
    return Point(**{"table": Table.HOLDING, "first": 40, "type": kind, "length": length, **more})  # type: ignore[arg-type]


def on_wire(octets: bytes, *, low_first: bool) -> dict[tuple[Table, int], int]:
    words = [octets[index : index + 2] for index in range(0, len(octets), 2)]
    if low_first:
        words.reverse()
    return {(Table.HOLDING, 40 + index): word[0] * 256 + word[1] for index, word in enumerate(words)}


@pytest.mark.parametrize("low_first", [False, True])
@pytest.mark.parametrize("kind", WHOLE)
@given(data=st.data())
def test_whole_numbers_are_what_struct_says(kind: str, low_first: bool, data: st.DataObject) -> None:
    octets = data.draw(st.binary(min_size=struct.calcsize(STRUCT[kind]), max_size=struct.calcsize(STRUCT[kind])))
    raw = on_wire(octets, low_first=low_first)
    (expected,) = struct.unpack(STRUCT[kind], octets)
    value = point(kind, low_first=low_first).decode(raw)
    assert value == expected
    assert type(value) is int
    assert point(kind, low_first=low_first).encode(expected, {}) == raw


@pytest.mark.parametrize("low_first", [False, True])
@given(octets=st.binary(min_size=4, max_size=4))
def test_singles_are_what_struct_says(low_first: bool, octets: bytes) -> None:
    (expected,) = struct.unpack(">f", octets)
    value = point("f32", low_first=low_first).decode(on_wire(octets, low_first=low_first))
    if not math.isfinite(expected):
        assert value is None
    else:
        assert isinstance(value, float)
        # The value shown has fewer digits, but is the same single.
        assert struct.pack(">f", value) == struct.pack(">f", expected + 0.0)


@pytest.mark.parametrize(
    ("octets", "value"),
    [
        # IEEE 754-2008, 3.4: sign, exponent biased by 127, fraction (worked by hand).
        ("3F800000", 1.0),
        ("C0490FDB", -3.1415927),
        ("424CCCCD", 51.2),
        ("00000001", 1.4013e-45),  # 2^-149, shown with the digits that identify it
        ("7F7FFFFF", 3.4028235e38),
        ("80000000", 0.0),
        ("7F800000", None),
        ("FF800000", None),
        ("7FC00000", None),
    ],
)
def test_singles_of_the_standard(octets: str, value: float | None) -> None:
    assert point("f32").decode(on_wire(bytes.fromhex(octets), low_first=False)) == value


@pytest.mark.parametrize(
    ("scale", "raw", "value"),
    [
        ("0.1", 512, 51.2),
        ("0.01", 5003, 50.03),
        ("0.001", 3337, 3.337),
        ("0.01", 217, 2.17),
        ("10", 36, 360),
        ("0.5", 3, 1.5),
    ],
)
def test_a_scale_gives_just_its_own_digits(scale: str, raw: int, value: float) -> None:
    scaled = point(scale=Decimal(scale))
    decoded = scaled.decode({(Table.HOLDING, 40): raw})
    assert repr(decoded) == repr(value)
    assert scaled.encode(value, {}) == {(Table.HOLDING, 40): raw}


@given(raw=st.integers(0, 65535), places=st.integers(0, 4))
def test_every_scaled_value_is_the_decimal_that_a_person_would_write(raw: int, places: int) -> None:
    decoded = point(scale=Decimal(1).scaleb(-places)).decode({(Table.HOLDING, 40): raw})
    assert decoded == float(f"{raw}e-{places}")


def test_offset_is_added_after_scaling() -> None:
    warm = point(scale=Decimal("0.1"), offset=Decimal(-100))
    assert warm.decode({(Table.HOLDING, 40): 1234}) == 23.4
    assert warm.encode(23.4, {}) == {(Table.HOLDING, 40): 1234}


def test_a_scale_factor_register_is_a_signed_power_of_ten() -> None:
    # SunSpec's scale factor (sunssf) is a signed 16-bit power of ten; 0x8000 means "not implemented" (from memory).
    watts = point("s16", scale_at=(Table.HOLDING, 50))
    assert watts.addresses == ((Table.HOLDING, 40),), "the only one that is written"
    assert watts.groups == (((Table.HOLDING, 40),), ((Table.HOLDING, 50),))
    assert watts.decode({(Table.HOLDING, 40): 0xFFFE, (Table.HOLDING, 50): 0xFFFF}) == -0.2
    assert watts.decode({(Table.HOLDING, 40): 7, (Table.HOLDING, 50): 2}) == 700
    assert watts.decode({(Table.HOLDING, 40): 7, (Table.HOLDING, 50): 0x8000}) is None
    assert watts.decode({(Table.HOLDING, 40): 7, (Table.HOLDING, 50): 10}) == 70_000_000_000
    assert watts.decode({(Table.HOLDING, 40): 7, (Table.HOLDING, 50): 11}) is None
    assert watts.decode({(Table.HOLDING, 40): 7}) is None
    assert watts.encode(1.5, {(Table.HOLDING, 50): 0xFFFF}) == {(Table.HOLDING, 40): 15}
    with pytest.raises(ValueRefused, match="scale_unknown"):
        watts.encode(1.5, {})


def test_bits_are_taken_and_put_back_without_touching_the_others() -> None:
    held = {(Table.HOLDING, 40): 0b1010_0000_0000_0110}
    flag, small = point(bits=(1, 1), flag=True), point(bits=(13, 15))
    assert flag.decode(held) is True
    assert small.decode(held) == 0b101
    assert flag.encode(value=False, raw=held) == {(Table.HOLDING, 40): 0b1010_0000_0000_0100}
    assert small.encode(0b010, held) == {(Table.HOLDING, 40): 0b0100_0000_0000_0110}
    with pytest.raises(ValueError, match="has to be read before"):
        flag.encode(value=True, raw={})
    with pytest.raises(ValueRefused, match=r"value_not_fitting.*'minimum': '0', 'maximum': '7'"):
        small.encode(8, held)
    with pytest.raises(ValueRefused, match="value_not_on_or_off"):
        flag.encode(5, held)


def test_invalid_raw_values_are_no_value_and_are_never_written() -> None:
    measured = point("s16", invalid=frozenset({-32768}))
    assert measured.decode({(Table.HOLDING, 40): 0x8000}) is None
    assert measured.decode({(Table.HOLDING, 40): 0x8001}) == -32767
    with pytest.raises(ValueRefused, match="value_means_none"):
        measured.encode(-32768, {})
    single = point("f32", invalid=frozenset({0x7F7FFFFF}))
    assert single.decode({(Table.HOLDING, 40): 0x7F7F, (Table.HOLDING, 41): 0xFFFF}) is None


@pytest.mark.parametrize("value", [float("nan"), float("inf"), "12", True, 65536, -1, 1e300])
def test_what_does_not_fit_is_refused(value: float | str) -> None:
    with pytest.raises(ValueRefused, match=r"value_no_number|value_not_fitting"):
        point().encode(value, {})


def test_a_single_that_is_too_large_is_refused() -> None:
    with pytest.raises(ValueRefused, match="value_not_fitting"):
        point("f32").encode(1e39, {})


def test_rounded_says_what_would_be_stored() -> None:
    assert point(scale=Decimal("0.1")).rounded(40.04) == 40.0
    assert point(scale=Decimal("0.1")).rounded(40.06) == 40.1
    assert point(scale=Decimal(5)).rounded(12) == 10
    assert point("f32").rounded(0.1) == 0.1
    with pytest.raises(ValueRefused, match="value_not_fitting"):
        point().rounded(70000)


def test_range_is_what_the_registers_hold() -> None:
    assert point(scale=Decimal("0.1")).range() == (0, 6553.5)
    assert point("s16", scale=Decimal("-0.1")).range() == (-3276.7, 3276.8)
    assert point(bits=(4, 7)).range() == (0, 15)


def test_text_is_two_characters_a_register_high_byte_first() -> None:
    serial = Point(table=Table.INPUT, first=10, type="text", length=8)
    octets = b"T5-AM-2611-0042\0"
    raw = {(Table.INPUT, 10 + index): octets[2 * index] * 256 + octets[2 * index + 1] for index in range(8)}
    assert serial.decode(raw) == "T5-AM-2611-0042"
    assert serial.encode("T5-AM-2611-0042", {}) == raw
    assert serial.rounded("T5") == "T5"
    with pytest.raises(ValueRefused, match=r"text_too_long.*'most': '16'"):
        serial.encode("x" * 17, {})
    with pytest.raises(ValueRefused, match="text_not_storable"):
        serial.encode("√", {})


@pytest.mark.parametrize("register", [0x0000, 0xFFFF, 0x2020, 0x0141])
def test_memory_that_was_never_written_is_no_text(register: int) -> None:
    assert Point(table=Table.INPUT, first=1, type="text", length=1).decode({(Table.INPUT, 1): register}) is None


@pytest.mark.parametrize("kind", [*STRUCT, "text"])
def test_missing_registers_are_no_value(kind: str) -> None:
    one = point(kind)
    assert one.decode({}) is None
    assert one.decode({(Table.INPUT, 40 + index): 1 for index in range(4)}) is None
