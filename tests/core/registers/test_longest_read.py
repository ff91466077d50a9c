"""What has to come in one read, and cannot, is a mistake in the map: no poll is left with a value that it cannot bring."""

from pathlib import Path

import pytest

from custom_components.chargehand.core.registers import batches

from .samples import HEAD, load, problems

DIRECTED = "{input: 31, unit: W, type: u32, direction: {input: %d, charging: 1, discharging: 2}}"


def text_of(longest: int, readings: str) -> str:
    return f"{HEAD}line: {{longest_read: {longest}}}\nreadings:\n  {readings}\n"


@pytest.mark.parametrize(
    ("reading", "key", "count"),
    [
        ("a: {table: input, words: [3, 4, 5, 6], type: u64, name: A}", "readings.a", 4),
        ("a: {table: input, words: [9, 4, 3, 5], type: u64, name: A}", "readings.a", 3),
        (f"battery_power: {DIRECTED % 33}", "readings.battery_power.direction", 3),
        (f"battery_power: {DIRECTED % 30}", "readings.battery_power.direction", 3),
    ],
)
def test_registers_that_follow_each_other_are_no_more_than_one_read_brings(
    tmp_path: Path, reading: str, key: str, count: int
) -> None:
    (problem,) = problems(tmp_path, text_of(2, reading))
    assert (problem.key, problem.line) == (key, 8)
    assert problem.reason == f"its {count} registers are more than one read brings"
    assert problems(tmp_path, text_of(count, reading)) == ()


def test_registers_apart_may_be_more(tmp_path: Path) -> None:
    map_ = load(
        tmp_path,
        text_of(2, f"battery_power: {DIRECTED % 34}\n  a: {{table: input, words: [3, 5, 7, 9], type: u64, name: A}}"),
    )
    groups = [group for reading in map_.readings.values() for group in reading.point.groups]
    assert sum(batch.count for batch in batches(groups, map_.line)) >= 7
