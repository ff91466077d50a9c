"""Finding registers without a line: how a search narrows down, what registers could say, what a change could mean."""

import math
import struct
from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from custom_components.chargehand.core.registers import LineRules, Span, Table
from custom_components.chargehand.core.registers.finder.changes import Meaning, changes
from custom_components.chargehand.core.registers.finder.earlier_reading import SnapshotWrong, snapshot_values
from custom_components.chargehand.core.registers.finder.interpretations import decodings
from custom_components.chargehand.core.registers.finder.stretch import Search, Stretch, reads, runs

REGISTER = st.integers(0, 0xFFFF)
HOLDING = Table.HOLDING


def stretch(first: int, count: int, table: Table = HOLDING) -> Stretch:
    return Stretch(table=table, first=first, count=count)


def at(first: int, *registers: int) -> dict[int, int]:
    return dict(enumerate(registers, start=first))


# ---- what to read


@given(
    first=st.integers(0, 900),
    count=st.integers(1, 400),
    longest=st.integers(1, 125),
    spans=st.lists(st.tuples(st.integers(0, 1400), st.integers(0, 60)), max_size=4),
)
def test_reads_bring_all_that_may_be_read_once_and_nothing_else(
    first: int, count: int, longest: int, spans: list[tuple[int, int]]
) -> None:
    no_read = tuple(Span(table=HOLDING, first=begin, last=begin + more) for begin, more in spans)
    found = reads(stretch(first, count), LineRules(longest_read=longest, no_read=no_read))
    forbidden = {address for begin, more in spans for address in range(begin, begin + more + 1)}
    read = [address for batch in found for address in range(batch.first, batch.first + batch.count)]
    assert read == sorted(set(range(first, first + count)) - forbidden)
    assert all(batch.count <= longest and batch.table is HOLDING for batch in found)


def test_what_is_forbidden_in_the_other_table_is_no_hindrance() -> None:
    rules = LineRules(no_read=(Span(table=Table.INPUT, first=0, last=99),))
    assert [(batch.first, batch.count) for batch in reads(stretch(0, 50), rules)] == [(0, 50)]


@given(count=st.integers(1, 200), missing=st.sets(st.integers(0, 199)))
def test_refused_batches_are_narrowed_down_to_exactly_the_missing_registers(count: int, missing: set[int]) -> None:
    search = Search(stretch=stretch(0, count), rules=LineRules(longest_read=60))
    while (batch := search.next_batch) is not None:
        asked = range(batch.first, batch.first + batch.count)
        if missing & set(asked):
            search.refused("exception 02")
        else:
            search.came([address * 7 for address in asked])
    assert search.values == {address: address * 7 for address in set(range(count)) - missing}
    found = {address for one in search.unreadable for address in range(one.first, one.last + 1)}
    assert found == missing & set(range(count))


@given(
    count=st.integers(2, 120),
    holes=st.sets(st.integers(0, 119), max_size=30),
    longs=st.sets(st.integers(0, 118), max_size=20),
)
def test_long_values_that_come_only_whole_are_found_wherever_a_half_ends(
    count: int, holes: set[int], longs: set[int]
) -> None:
    """A read that ends within a long value is refused, as some inverters have it (common practice, no source)."""
    apart = {
        first for first in longs if first + 1 < count and first - 1 not in longs and not {first, first + 1} & holes
    }
    search = Search(stretch=stretch(0, count), rules=LineRules(longest_read=60))
    while (batch := search.next_batch) is not None:
        asked = set(range(batch.first, batch.first + batch.count))
        if holes & asked or any(len({first, first + 1} & asked) == 1 for first in apart):
            search.refused("exception 02")
        else:
            search.came([address * 7 for address in sorted(asked)])
    assert search.values == {address: address * 7 for address in set(range(count)) - holes}
    found = {address for one in search.unreadable for address in range(one.first, one.last + 1)}
    assert found == holes & set(range(count))


def test_one_missing_register_of_a_hundred_costs_few_requests() -> None:
    search, requests = Search(stretch=stretch(0, 100), rules=LineRules()), 0
    while (batch := search.next_batch) is not None:
        requests += 1
        if batch.first <= 37 < batch.first + batch.count:
            search.refused("exception 02")
        else:
            search.came([0] * batch.count)
    assert requests <= 1 + 2 * math.ceil(math.log2(100))


def test_what_failed_for_another_reason_is_listed_whole_with_its_reason() -> None:
    search = Search(stretch=stretch(10, 30), rules=LineRules(longest_read=10))
    search.gone("no answer")
    search.gone("no answer")
    search.refused("exception 02")
    search.came([1] * 5)
    search.came([2] * 5)
    assert [(one.first, one.last, one.why) for one in search.unreadable] == [(10, 29, "no answer")]


def test_neighbours_are_told_as_one_run() -> None:
    assert runs([7, 3, 4, 5, 9]) == ((3, 5), (7, 7), (9, 9))
    assert runs([]) == ()


# ---- what registers say; the standard library's struct is the referee


@given(one=REGISTER, two=REGISTER)
def test_numbers_of_both_word_orders_are_what_struct_reads(one: int, two: int) -> None:
    found = decodings(at(740, one, two), 740)
    high_first, low_first = struct.pack(">HH", one, two), struct.pack(">HH", two, one)
    assert found["u16"] == one
    assert found["s16"] == struct.unpack(">h", struct.pack(">H", one))[0]
    for order, octets in (("high_first", high_first), ("low_first", low_first)):
        assert found[f"u32_{order}"] == struct.unpack(">I", octets)[0]
        assert found[f"s32_{order}"] == struct.unpack(">i", octets)[0]
        single = struct.unpack(">f", octets)[0]
        if f"f32_{order}" in found:
            assert struct.pack(">f", found[f"f32_{order}"]) == octets
        else:
            assert not (1e-3 < abs(single) < 1e7), "a float of a usual size is never left out"


@given(number=st.floats(2**-6, 9999, width=32))
def test_a_float_is_found_in_both_word_orders(number: float) -> None:
    one, two = struct.unpack(">HH", struct.pack(">f", number))
    for registers, order in (((one, two), "high_first"), ((two, one), "low_first")):
        assert struct.pack(">f", decodings(at(0, *registers), 0)[f"f32_{order}"]) == struct.pack(">f", number)


@pytest.mark.parametrize(
    ("layout", "registers"),
    [
        # Worked by hand; the layouts are common practice, no source.
        ("hour_minute", (23, 40)),
        ("packed", (0x1728,)),
        ("hhmm", (2340,)),
        ("bcd", (0x2340,)),
        ("minutes", (1420,)),
    ],
)
def test_twenty_to_midnight_is_found_in_every_layout(layout: str, registers: tuple[int, ...]) -> None:
    assert decodings(at(740, *registers), 740)[layout] == "23:40"


def test_no_time_is_shown_where_there_is_none() -> None:
    assert not {"hour_minute", "packed", "hhmm", "bcd", "minutes"} & decodings(at(0, 0xFFFF, 0xFFFF), 0).keys()


@pytest.mark.parametrize(
    ("key", "registers"),
    [
        ("six_registers", (26, 3, 29, 2, 30, 5)),
        ("six_registers", (2026, 3, 29, 2, 30, 5)),
        ("three_bytes", (26 * 256 + 3, 29 * 256 + 2, 30 * 256 + 5)),
        ("unix_high_first", divmod(int(datetime(2026, 3, 29, 2, 30, 5, tzinfo=UTC).timestamp()), 65536)),
        ("unix_low_first", divmod(int(datetime(2026, 3, 29, 2, 30, 5, tzinfo=UTC).timestamp()), 65536)[::-1]),
    ],
)
def test_a_clock_is_found_in_every_layout(key: str, registers: tuple[int, ...]) -> None:
    assert decodings(at(706, *registers), 706)[key] == "2026-03-29 02:30:05"


def test_two_characters_are_a_text_and_control_characters_are_none() -> None:
    assert decodings(at(10, 0x5435), 10)["text"] == "T5"
    assert "text" not in decodings(at(10, 0x0017), 10)


def test_longer_values_need_all_their_registers() -> None:
    assert {"u32_high_first", "f32_low_first", "hour_minute"}.isdisjoint(decodings({740: 23, 742: 5}, 740))


@given(registers=st.lists(REGISTER, min_size=6, max_size=6))
def test_any_registers_can_be_decoded(registers: list[int]) -> None:
    assert decodings(at(0, *registers), 0)["u16"] == registers[0]


# ---- what a change could mean


def best(before: dict[int, int], after: dict[int, int]) -> tuple[int, str, object, object]:
    """The first meaning of the first change: register, its name, was, now."""
    meaning = changes(before, after)[0].meanings[0]
    return meaning.first, name(meaning), meaning.was, meaning.now


def name(meaning: Meaning) -> str:
    return f"bit {meaning.bit}" if meaning.way is None else meaning.way.key


@pytest.mark.parametrize(
    ("layout", "before", "after"),
    [
        ("hour_minute", (23, 0), (23, 40)),
        ("packed", (0x1700,), (0x1728,)),
        ("hhmm", (2300,), (2340,)),
        ("bcd", (0x2300,), (0x2340,)),
        ("minutes", (1380,), (1420,)),
    ],
)
def test_a_start_set_from_2300_to_2340_names_its_layout_first(
    layout: str, before: tuple[int, ...], after: tuple[int, ...]
) -> None:
    # Its neighbours are a current and a level that stay, as they would on an inverter.
    assert best(at(740, *before, 400, 100), at(740, *after, 400, 100)) == (740, layout, "23:00", "23:40")


def test_a_time_of_two_registers_is_told_for_each_that_changed() -> None:
    found = changes(at(740, 23, 0, 5, 0), at(740, 22, 45, 5, 0))
    assert [change.register for change in found] == [740, 741]
    for change in found:
        assert (change.meanings[0].first, name(change.meanings[0])) == (740, "hour_minute")
        assert (change.meanings[0].was, change.meanings[0].now) == ("23:00", "22:45")


@pytest.mark.parametrize(
    ("before", "after", "found"),
    [
        ((1,), (0,), (0, "bit 0", 1, 0)),
        ((100,), (95,), (0, "u16", 100, 95)),
        ((0xFFF6,), (0xFFEC,), (0, "s16", -10, -20)),
        ((1, 34464), (2, 3392), (0, "u32_high_first", 100000, 134464)),
        ((34464, 1), (3392, 2), (0, "u32_low_first", 100000, 134464)),
        ((0xFFFF, 0xFC18), (0, 1000), (0, "s32_high_first", -1000, 1000)),
        # IEEE 754 singles 51.2 and 48.3, rounded by hand.
        ((0x424C, 0xCCCD), (0x4241, 0x3333), (0, "f32_high_first", 51.2, 48.3)),
    ],
)
def test_other_settings_are_told_for_what_they_are(
    before: tuple[int, ...], after: tuple[int, ...], found: tuple[int, str, object, object]
) -> None:
    assert best(at(0, *before), at(0, *after)) == found


def test_a_bit_beside_others_is_told_along_with_the_number() -> None:
    (change,) = changes({200: 0b001}, {200: 0b101})
    assert change.flipped == (2,)
    assert {("bit 2", 0, 1), ("u16", 1, 5)} <= {(name(one), one.was, one.now) for one in change.meanings}


def test_a_running_clock_comes_last_and_is_told_as_a_clock() -> None:
    found = changes(at(706, 26, 3, 29, 2, 30, 5, 0, 0, 23, 0), at(706, 26, 3, 29, 2, 31, 10, 0, 0, 23, 40))
    assert [change.register for change in found] == [715, 710, 711]
    assert name(found[1].meanings[0]) == name(found[2].meanings[0]) == "six_registers"
    assert (found[1].meanings[0].was, found[1].meanings[0].now) == ("2026-03-29 02:30:05", "2026-03-29 02:31:10")


@given(before=st.lists(REGISTER, min_size=8, max_size=8), after=st.lists(REGISTER, min_size=8, max_size=8))
def test_every_change_is_told_and_nothing_else(before: list[int], after: list[int]) -> None:
    found = changes(at(100, *before), at(100, *after))
    assert {change.register for change in found} == {100 + index for index in range(8) if before[index] != after[index]}
    for change in found:
        assert sum(1 << bit for bit in change.flipped) == change.was ^ change.now
        assert [meaning.score for meaning in change.meanings] == sorted(
            (meaning.score for meaning in change.meanings), reverse=True
        )
        assert "u16" in {name(meaning) for meaning in change.meanings}
        assert all(meaning.was != meaning.now for meaning in change.meanings)


def test_registers_read_only_once_are_not_compared() -> None:
    assert changes({1: 5, 2: 6}, {2: 6, 3: 7}) == ()


# ---- snapshots

SNAPSHOT = {"table": "holding", "first": 741, "count": 2, "numbering": "from_1", "registers": {"741": 23, "742": 0}}
FROM_1 = LineRules(numbering="from_1")


def test_a_snapshot_is_read_as_the_map_counts() -> None:
    assert snapshot_values(SNAPSHOT, stretch(740, 2), FROM_1) == {740: 23, 741: 0}
    pasted = {**SNAPSHOT, "registers": {741: 23}}
    assert snapshot_values(pasted, stretch(740, 2), FROM_1) == {740: 23}


@pytest.mark.parametrize(
    "snapshot",
    [
        {**SNAPSHOT, "table": "input"},
        {**SNAPSHOT, "first": 740},
        {**SNAPSHOT, "count": 3},
        {**SNAPSHOT, "numbering": "from_0"},
    ],
)
def test_a_snapshot_of_other_registers_says_which(snapshot: dict[str, object]) -> None:
    with pytest.raises(SnapshotWrong) as wrong:
        snapshot_values(snapshot, stretch(740, 2), FROM_1)
    assert wrong.value.key == "snapshot_other_registers"
    assert wrong.value.values_["asked"] == "holding 741 to 742 (numbering from_1)"


@pytest.mark.parametrize(
    ("snapshot", "what"),
    [
        ("23, 0", "table"),
        (None, "table"),
        ([23, 0], "table"),
        ({}, "table"),
        ({**SNAPSHOT, "first": "741"}, "first"),
        ({**SNAPSHOT, "count": True}, "count"),
        ({**SNAPSHOT, "registers": None}, "registers"),
        ({**SNAPSHOT, "registers": [23, 0]}, "registers"),
        ({**SNAPSHOT, "registers": {"x": 1}}, "registers: x"),
        ({**SNAPSHOT, "registers": {"740": 1}}, "registers: 740"),
        ({**SNAPSHOT, "registers": {"²": 1}}, "registers: ²"),
        ({**SNAPSHOT, "registers": {"741": 65536}}, "registers: 741"),
        ({**SNAPSHOT, "registers": {"741": -1}}, "registers: 741"),
        ({**SNAPSHOT, "registers": {"741": "23"}}, "registers: 741"),
        ({**SNAPSHOT, "registers": {"741": True}}, "registers: 741"),
    ],
)
def test_garbage_is_told_with_the_place(snapshot: object, what: str) -> None:
    with pytest.raises(SnapshotWrong) as wrong:
        snapshot_values(snapshot, stretch(740, 2), FROM_1)
    assert wrong.value.key == "snapshot_no_answer"
    assert wrong.value.values_["what"] == what
