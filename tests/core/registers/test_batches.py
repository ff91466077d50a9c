"""Batches against every other way to read the same registers."""

from collections.abc import Iterator, Sequence
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from custom_components.chargehand.core.registers import Address, LineCost, LineRules, Span, Table, batches, bus_seconds

type Group = tuple[int, int]
"""First register and length."""


def test_bus_time_of_one_register_at_9600_baud() -> None:
    # Modbus over Serial Line V1.02, 2.5.1: 11 bits a character, frames 3.5 characters apart. Worked by hand:
    # (8 + 5 + 2) characters + 2 × 3.5 characters = 22 characters of 1.1458 ms = 25.21 ms, and 30 ms of turnaround.
    assert bus_seconds(1) == pytest.approx(0.05521, abs=1e-5)


def test_silence_is_fixed_above_19200_baud() -> None:
    assert bus_seconds(1, baud=115200, turnaround=0) == pytest.approx(15 * 11 / 115200 + 2 * 0.00175)
    assert bus_seconds(1, baud=19200, turnaround=0) == pytest.approx(22 * 11 / 19200)


def spread(table: Table, groups: Sequence[Group]) -> list[list[Address]]:
    return [[(table, first + index) for index in range(length)] for first, length in groups]


def partitions(items: Sequence[Group]) -> Iterator[list[Sequence[Group]]]:
    """Every way to cut a sorted list into stretches."""
    for cuts in range(1 << max(len(items) - 1, 0)):
        edges = [0, *(index + 1 for index in range(len(items) - 1) if cuts >> index & 1), len(items)]
        yield [items[begin:end] for begin, end in pairwise(edges)]


def cheapest(groups: Sequence[Group], rules: LineRules, cost: LineCost) -> float:
    """The least total time, by trying everything."""
    best = float("inf")
    for parts in partitions(sorted(groups)):
        reads = [(part[0][0], max(first + length for first, length in part) - 1) for part in parts]
        if any(last - first >= rules.longest_read for first, last in reads):
            continue
        if any(span.first <= last and first <= span.last for span in rules.no_read for first, last in reads):
            continue
        best = min(best, sum(cost.seconds(last - first + 1) + rules.pause_ms / 1000 for first, last in reads))
    return best


@st.composite
def strewn(draw: st.DrawFn) -> list[Group]:
    """Groups of 1 to 4 registers, some of which overlap."""
    groups, after = [], 0
    for _ in range(draw(st.integers(1, 9))):
        first = max(after + draw(st.integers(-3, 60)), 0)
        length = draw(st.integers(1, 4))
        groups.append((first, length))
        after = first + length
    return groups


@given(
    groups=strewn(),
    longest=st.integers(4, 125),
    holes=st.lists(st.integers(0, 600), max_size=3),
    pause=st.sampled_from([0, 50, 300]),
    turnaround=st.sampled_from([0.0, 0.01, 0.1]),
)
def test_no_other_set_of_reads_is_cheaper(
    groups: list[Group], longest: int, holes: list[int], pause: int, turnaround: float
) -> None:
    taken = {register for first, length in groups for register in range(first, first + length)}
    no_read = tuple(Span(table=Table.INPUT, first=hole, last=hole) for hole in holes if hole not in taken)
    rules = LineRules(longest_read=longest, no_read=no_read, pause_ms=pause)
    cost = LineCost(turnaround=turnaround)
    reads = batches(spread(Table.INPUT, groups), rules, cost)
    assert sum(cost.seconds(read.count) + pause / 1000 for read in reads) == pytest.approx(
        cheapest(groups, rules, cost)
    )
    assert all(read.count <= longest for read in reads)
    assert not any(read.first <= span.first < read.first + read.count for read in reads for span in no_read)
    for first, length in groups:
        assert any(read.first <= first and first + length <= read.first + read.count for read in reads)


def test_a_gap_is_read_across_just_when_that_is_cheaper() -> None:
    # Worked by hand: a request more costs (13 + 7) characters and 30 ms, 52.9 ms; a register more two characters, 2.29 ms.
    # So up to 23 registers that nobody wants are cheaper than a second request.
    assert len(batches(spread(Table.INPUT, [(0, 1), (24, 1)]), LineRules())) == 1
    assert len(batches(spread(Table.INPUT, [(0, 1), (25, 1)]), LineRules())) == 2


def test_a_wait_between_requests_makes_longer_reads_worth_it() -> None:
    assert len(batches(spread(Table.INPUT, [(0, 1), (80, 1)]), LineRules(pause_ms=0))) == 2
    assert len(batches(spread(Table.INPUT, [(0, 1), (80, 1)]), LineRules(pause_ms=200))) == 1


def test_tables_are_never_mixed() -> None:
    reads = batches([*spread(Table.INPUT, [(0, 2)]), *spread(Table.HOLDING, [(2, 1)])], LineRules())
    assert [(read.table, read.first, read.count) for read in reads] == [(Table.INPUT, 0, 2), (Table.HOLDING, 2, 1)]


def test_a_group_may_have_parts_far_apart() -> None:
    reads = batches([[(Table.INPUT, 10), (Table.INPUT, 11), (Table.HOLDING, 900)]], LineRules())
    assert [(read.table, read.first, read.count) for read in reads] == [(Table.INPUT, 10, 2), (Table.HOLDING, 900, 1)]


def test_groups_that_share_registers_come_in_one_read_where_they_fit() -> None:
    groups = spread(Table.INPUT, [(10, 4), (12, 4), (12, 4)])
    assert [(read.first, read.count) for read in batches(groups, LineRules(longest_read=6))] == [(10, 6)]
    assert [(read.first, read.count) for read in batches(groups, LineRules(longest_read=5))] == [(10, 4), (12, 4)]


def test_what_no_one_read_brings_is_refused() -> None:
    with pytest.raises(ValueError, match="740 to 757 are more than one read brings"):
        batches(spread(Table.HOLDING, [(740, 18)]), LineRules(longest_read=10))


def test_nothing_to_read_needs_no_read() -> None:
    assert batches([], LineRules()) == ()
