"""Words apart, orders that differ, sums and directions, against `struct`, pymodbus's converters and values worked by hand."""

import struct
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pymodbus.client.mixin import ModbusClientMixin

from custom_components.chargehand.core.registers import Address, Batch, LineRules, Point, Span, Table, batches

from .samples import HEAD, load, problems
from .test_format import held, reading

DATATYPE = ModbusClientMixin.DATATYPE
WHOLE = {
    "u32": DATATYPE.UINT32,
    "s32": DATATYPE.INT32,
    "u64": DATATYPE.UINT64,
    "s64": DATATYPE.INT64,
}


def at(*registers: tuple[int, int]) -> dict[Address, int]:
    return {(Table.INPUT, number): register for number, register in registers}


@pytest.mark.parametrize(("order", "pymodbus_order"), [("high_first", "big"), ("low_first", "little")])
@pytest.mark.parametrize("kind", WHOLE)
@settings(max_examples=20)
@given(data=st.data())
def test_the_order_at_a_point_is_what_pymodbus_makes_of_it(
    tmp_path_factory: pytest.TempPathFactory, kind: str, order: str, pymodbus_order: str, data: st.DataObject
) -> None:
    length = WHOLE[kind].value[1]
    registers = data.draw(st.lists(st.integers(0, 65535), min_size=length, max_size=length))
    other = "low_first" if order == "high_first" else "high_first"
    row = f"own: {{input: 5, type: {kind}, word_order: {order}, name: Own}}"
    made = reading(tmp_path_factory.mktemp("map"), row, f"line: {{word_order: {other}}}")
    expected = ModbusClientMixin.convert_from_registers(registers, WHOLE[kind], word_order=pymodbus_order)  # type: ignore[arg-type]
    assert made.decode(held(*registers)) == expected


@given(octets=st.binary(min_size=4, max_size=4))
def test_both_orders_low_first_is_what_struct_calls_little_endian(octets: bytes) -> None:
    point = Point(table=Table.INPUT, first=5, type="s32", length=2, low_first=True, low_byte_first=True)
    registers = struct.unpack(">2H", octets)
    (expected,) = struct.unpack("<i", octets)
    assert point.decode(held(*registers)) == expected
    assert point.encode(expected, {}) == held(*registers)


FORMATS = {"u16": "H", "s16": "h", "u32": "I", "s32": "i", "u64": "Q", "s64": "q"}


@settings(max_examples=150)
@given(data=st.data())
def test_every_way_to_write_a_number_down_is_what_struct_and_decimal_make_of_it(
    tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
) -> None:
    """All of a number's keys at once: where its registers are, their order and that of their bytes, scale and offset."""
    kind = data.draw(st.sampled_from(sorted(FORMATS)))
    octets = data.draw(st.binary(min_size=struct.calcsize(FORMATS[kind]), max_size=struct.calcsize(FORMATS[kind])))
    scale, offset = data.draw(st.sampled_from(("1", "0.1", "0.01", "-10", "0.5"))), data.draw(st.integers(-100, 100))
    words = [int.from_bytes(octets[at : at + 2]) for at in range(0, len(octets), 2)]
    numbers = list(range(20, 20 + len(words)))
    row = [f"type: {kind}", f"scale: {scale}", f"offset: {offset}", "name: Own"]
    map_order = data.draw(st.sampled_from(("high_first", "low_first")))
    if len(words) > 1 and data.draw(st.booleans()):
        numbers = data.draw(st.lists(st.integers(1, 90), min_size=len(words), max_size=len(words), unique=True))
        row += ["table: input", f"words: {numbers}"]
    else:
        order = map_order
        if len(words) > 1 and data.draw(st.booleans()):
            order = data.draw(st.sampled_from(("high_first", "low_first")))
            row.append(f"word_order: {order}")
        row.append(f"input: {numbers[0]}")
        if order == "low_first":
            numbers.reverse()
    if data.draw(st.booleans()):
        row.append("byte_order: low_first")
        words = [word % 256 * 256 + word // 256 for word in words]
    made = reading(tmp_path_factory.mktemp("map"), f"own: {{{', '.join(row)}}}", f"line: {{word_order: {map_order}}}")
    (raw,) = struct.unpack(f">{FORMATS[kind]}", octets)
    exact = Decimal(raw) * Decimal(scale) + offset
    # What whole numbers make is whole, however long; all else is the float that is nearest.
    assert made.decode(at(*zip(numbers, words, strict=True))) == (float(exact) if "." in scale else int(exact))


def test_a_text_with_the_low_byte_first(tmp_path: Path) -> None:
    # "PM8-" as four bytes, each pair the other way round: "MP" is 0x4D50, "-8" is 0x2D38 (ASCII, worked by hand).
    row = "own: {input: 5, type: text, length: 3, byte_order: low_first, name: Own}"
    made = reading(tmp_path, row)
    assert made.decode(held(0x4D50, 0x2D38, 0x0000)) == "PM8-"
    assert isinstance(made.point, Point)
    assert made.point.encode("PM8-", {}) == held(0x4D50, 0x2D38, 0x0000)


def test_the_order_of_the_map_is_kept_where_a_point_says_nothing(tmp_path: Path) -> None:
    made = load(
        tmp_path,
        f"{HEAD}line: {{word_order: low_first}}\nreadings:\n"
        "  one: {input: 5, type: u32, name: One}\n"
        "  two: {input: 7, type: u32, word_order: high_first, name: Two}\n",
    )
    raw = held(1, 2, 1, 2)
    assert [one.decode(raw) for one in made.readings.values()] == [2 * 65536 + 1, 65536 + 2]


def test_words_apart_are_one_number(tmp_path: Path) -> None:
    row = "solar_energy: {table: input, words: [381, 391], type: u32, scale: 0.1, unit: kWh}"
    made = reading(tmp_path, row)
    # 0x0003 0x8D40 is 232768 (worked by hand: 3 × 65536 + 36160); in 0.1 kWh.
    assert made.decode(at((381, 3), (391, 36160))) == 23276.8
    assert made.decode(at((381, 3))) is None
    assert made.point.groups == (((Table.INPUT, 381), (Table.INPUT, 391)),)


def test_words_are_named_most_significant_first_whatever_the_map_says(tmp_path: Path) -> None:
    row = "own: {table: holding, words: [9, 7, 3, 5], type: s64, name: Own}"
    made = reading(tmp_path, row, "line: {word_order: low_first}")
    raw = {
        (Table.HOLDING, 9): 0xFFFF,
        (Table.HOLDING, 7): 0xFFFF,
        (Table.HOLDING, 3): 0xFFFF,
        (Table.HOLDING, 5): 0xFFFE,
    }
    assert made.decode(raw) == -2


def test_words_are_read_across_what_lies_between_only_where_that_may_be() -> None:
    group = ((Table.INPUT, 381), (Table.INPUT, 391))
    assert batches([group], LineRules()) == (Batch(Table.INPUT, 381, 11),)
    hole = Span(table=Table.INPUT, first=383, last=390)
    assert batches([group], LineRules(no_read=(hole,))) == (Batch(Table.INPUT, 381, 1), Batch(Table.INPUT, 391, 1))


@pytest.mark.parametrize(("again", "clashes"), [("[381, 391]", 0), ("[391, 381]", 1), ("[381, 392]", 1)])
def test_a_word_has_one_meaning(tmp_path: Path, again: str, clashes: int) -> None:
    rows = "".join(
        f"  {key}: {{table: input, words: {words}, type: u32, name: {key}}}\n"
        for key, words in (("one", "[381, 391]"), ("two", again))
    )
    found = problems(tmp_path, f"{HEAD}readings:\n{rows}")
    assert [problem.key for problem in found] == ["readings.two"] * clashes


def test_words_are_counted_as_the_document_does(tmp_path: Path) -> None:
    row = "own: {table: input, words: [382, 392], type: u32, name: Own}"
    made = reading(tmp_path, row, "line: {numbering: from_1}")
    assert made.point.parts[0].addresses == ((Table.INPUT, 381), (Table.INPUT, 391))


@pytest.mark.parametrize(
    ("row", "registers", "value"),
    [
        ("solar_power: {sum: [{input: 5, type: u32}, {input: 7, type: u32}]}", (0, 1200, 1, 34), 1200 + 65536 + 34),
        ("solar_power: {sum: [{input: 5}, {input: 6}], unit: kW}", (1, 2), 3000),
        (
            "grid_power: {sum: [{input: 5, type: s16}, {input: 6, type: s16}, {input: 7, type: s16}], positive: exporting}",
            (100, 0xFFFE, 50),
            -148,
        ),
        # 0.1 + 0.2, which no two binary floats add up to.
        ("own: {sum: [{input: 5, scale: 0.1}, {input: 6, scale: 0.1}], name: Own}", (1, 2), 0.3),
        ("own: {sum: [{input: 5, offset: -40}, {input: 6, scale: 0.5}], name: Own}", (50, 5), 12.5),
        ("own: {sum: [{input: 5, bits: [0, 3]}, {input: 5, bits: [4, 7]}], name: Own}", (0x25,), 7),
        ("own: {sum: [{input: 5, type: s16, invalid: [0x7FFF]}, {input: 6}], name: Own}", (0x7FFF, 5), None),
        ("own: {sum: [{input: 5, type: f32}, {input: 7}], name: Own}", (0x7FC0, 0, 5), None),
        ("own: {sum: [{input: 5}, {table: input, words: [6, 8], type: u32}], name: Own}", (5, 1, 0, 2), 65543),
    ],
)
def test_a_sum_is_that_of_its_points_and_none_where_one_is_none(
    tmp_path: Path, row: str, registers: tuple[int, ...], value: float | None
) -> None:
    assert repr(reading(tmp_path, row).decode(held(*registers))) == repr(value)


def test_a_sum_misses_what_one_of_its_points_misses(tmp_path: Path) -> None:
    made = reading(tmp_path, "solar_power: {sum: [{input: 5}, {input: 7}]}")
    assert made.decode(held(1)) is None
    assert made.point.groups == (((Table.INPUT, 5),), ((Table.INPUT, 7),))


BATTERY = "battery_power: {input: 5, direction: {input: 6, charging: 1, discharging: 2, neither: 0}}"


@pytest.mark.parametrize(
    ("row", "registers", "value"),
    [
        # 1500 W while charging is shown as -1500: shown positive is discharging and importing.
        (BATTERY, (1500, 1), -1500),
        (BATTERY, (1500, 2), 1500),
        (BATTERY, (0, 1), 0),
        (BATTERY, (12, 0), 0),
        (BATTERY, (1500, 3), None),
        (BATTERY.replace("input: 5,", "input: 5, unit: kW, scale: 0.1,"), (15, 1), -1500),
        (BATTERY.replace("input: 5,", "input: 5, type: s16,"), (0xFFFF, 1), None),
        (BATTERY.replace("input: 5,", "input: 5, invalid: [0xFFFF],"), (0xFFFF, 1), None),
        ("grid_power: {input: 5, direction: {input: 6, importing: [1, 4], exporting: 2}}", (7, 4), 7),
        ("grid_power: {input: 5, direction: {input: 6, importing: [1, 4], exporting: 2}}", (7, 2), -7),
        ("grid_power: {input: 5, direction: {input: 6, bits: [4, 5], importing: 0, exporting: 1}}", (7, 0x1F), -7),
        ("grid_power: {input: 5, direction: {input: 6, bit: 3, importing: 0, exporting: 1}}", (7, 8), -7),
        ("grid_power: {input: 5, direction: {input: 6, bit: 3, importing: 0, exporting: 1}}", (7, 0xFFF7), 7),
        # Sign and magnitude in one register.
        (
            "grid_power: {input: 5, bits: [0, 14], direction: {input: 5, bit: 15, importing: 0, exporting: 1}}",
            (0x8007,),
            -7,
        ),
        (
            "grid_power: {sum: [{input: 5}, {input: 6}], direction: {input: 7, importing: 0, exporting: 1}}",
            (3, 4, 1),
            -7,
        ),
        ("own: {input: 5, name: Own, direction: {input: 6, charging: 0, discharging: 1}}", (7, 0), -7),
        ("own: {input: 5, name: Own, direction: {input: 6, importing: 0, exporting: 1}}", (7, 0), 7),
    ],
)
def test_a_direction_gives_an_amount_its_sign(
    tmp_path: Path, row: str, registers: tuple[int, ...], value: float | None
) -> None:
    assert repr(reading(tmp_path, row).decode(held(*registers))) == repr(value)


def test_a_float_of_0_is_no_minus_0(tmp_path: Path) -> None:
    row = "battery_power: {input: 5, type: f32, direction: {input: 7, charging: 1, discharging: 2}}"
    assert repr(reading(tmp_path, row).decode(held(0, 0, 1))) == "0.0"


def test_amount_and_direction_come_in_one_read_where_they_stand_side_by_side(tmp_path: Path) -> None:
    made = reading(tmp_path, BATTERY)
    assert made.point.groups == (((Table.INPUT, 5), (Table.INPUT, 6)),)
    assert made.positive == "discharging"


def test_a_direction_register_can_be_shown_too(tmp_path: Path) -> None:
    row = "  way: {input: 6, labels: {0: idle, 1: charging, 2: discharging}, name: Way}"
    assert problems(tmp_path, f"{HEAD}readings:\n  {BATTERY}\n{row}\n") == ()


def test_a_bit_with_labels_is_shown_in_words_and_one_without_as_on_or_off(tmp_path: Path) -> None:
    words = reading(tmp_path, "own: {input: 5, bit: 3, labels: {0: Grid lost, 1: Grid there}, name: Own}")
    assert [words.decode(held(value)) for value in (0, 8)] == ["Grid lost", "Grid there"]
    assert not words.is_binary
    bare = reading(tmp_path, "own: {input: 5, bit: 3, name: Own}")
    assert [bare.decode(held(value)) for value in (0, 8)] == [False, True]
    assert bare.is_binary


@pytest.mark.parametrize("bit", [0, 31, 32, 63])
@pytest.mark.parametrize("order", ["high_first", "low_first"])
def test_flags_of_64_bits(tmp_path: Path, bit: int, order: str) -> None:
    """A bit that a document numbers from 1 is one less in the map: its last is bit 63, and 64 is an error."""
    rows = ", ".join(f"{number}: Fault {number + 1}" for number in range(64))
    made = reading(tmp_path, f"alarms: {{input: 5, type: u64, flags: {{{rows}}}}}", f"line: {{word_order: {order}}}")
    registers = struct.unpack(">4H", struct.pack(">Q", 1 << bit))
    assert made.decode(held(*(registers if order == "high_first" else reversed(registers)))) == (f"Fault {bit + 1}",)


def test_an_offset_an_invalid_value_and_bits_as_documents_have_them(tmp_path: Path) -> None:
    # By hand: "+40 (65 = 25 degC)"; "offset 1000: 1250 = 25.0 degC"; "0x7FFF invalid"; "bits 0-3 state".
    assert reading(tmp_path, "battery_temperature: {input: 5, offset: -40}").decode(held(65)) == 25
    tenths = "battery_temperature: {input: 5, scale: 0.1, offset: -100}"
    assert reading(tmp_path, tenths).decode(held(1250)) == 25.0
    signed = "battery_temperature: {input: 5, type: s16, scale: 0.1, invalid: [0x7FFF]}"
    assert reading(tmp_path, signed).decode(held(0x7FFF)) is None
    assert reading(tmp_path, signed).decode(held(0xFFF1)) == -1.5
    state = "inverter_state: {input: 5, bits: [0, 3], labels: {0: off, 1: idle, 2: run, 7: error}}".replace(
        "off", '"off"'
    )
    assert reading(tmp_path, state).decode(held(0xA7)) == "error"


@pytest.mark.parametrize(
    ("table", "number", "right", "wire"),
    [("input", 30102, 102, 30101), ("holding", 40710, 710, 40709), ("input", 39999, 9999, 39998)],
)
def test_a_number_with_its_tables_digit_is_told_with_what_to_write(
    tmp_path: Path, table: str, number: int, right: int, wire: int
) -> None:
    text = f"{HEAD}line: {{numbering: from_1}}\nreadings:\n  battery_level: {{{table}: {number}}}\n"
    (problem,) = problems(tmp_path, text)
    assert problem.key == f"readings.battery_level.{table}"
    assert f"write {right};" in problem.cure
    assert f"write {wire} with numbering: from_0" in problem.cure
    assert problems(tmp_path, text.replace(str(number), str(right))) == ()
    assert problems(tmp_path, text.replace(str(number), str(wire)).replace("from_1", "from_0")) == ()


@pytest.mark.parametrize(
    "place", ["scale_at: {input: 30007}", "direction: {input: 30007, charging: 1, discharging: 2}"]
)
def test_every_register_that_is_named_is_looked_at(tmp_path: Path, place: str) -> None:
    text = f"{HEAD}line: {{numbering: from_1}}\nreadings:\n  battery_power: {{input: 5, {place}}}\n"
    (problem,) = problems(tmp_path, text)
    assert "write 7;" in problem.cure
    assert problems(tmp_path, text.replace("30007", "40007")) == ()
