"""What YAML 1.1 and YAML 1.2 read differently is refused in a map, with what to write instead; never taken one way in silence."""

from pathlib import Path

import pytest

from custom_components.chargehand.core.registers import Table

from .mistake import CODE, LEVEL, LOOP, RESERVE, STATE
from .samples import SAMPLE, load, problems

# The two readings of each: YAML 1.1's types (yaml.org/type: int, float, bool, timestamp) and YAML 1.2.2, 10.3.2, core schema.
UNCLEAR = [
    ("0100", "64 or 100", "write 100 if it is decimal, 0x100 if it is hexadecimal"),
    ("-010", "-8 or -10", "write -10"),
    ("08", "a text or 8", "write 8"),
    ("007", "7 either way", "write 7 if it is decimal"),
    ("1_000", "1000 or a text", "write 1000"),
    ("0x1_0", "16 or a text", "write 0x10"),
    ("1:30", "90 or a text", 'write it in quotes, "1:30"'),
    ("24:00", "1440 or a text", '"24:00"'),
    ("1:30.5", "90.5 or a text", '"1:30.5"'),
    ("0b101", "5 or a text", "write 5"),
    ("0o17", "a text or 15", "write 15"),
    ("1e3", "a text or 1000", "write it out"),
    ("1.5e3", "a text or 1500", "write it out"),
    ("-.5", "a text or -0.5", "write -0.5"),
    ("-0x10", "-16 or a text", 'write it in quotes, "-0x10"'),
    ("2026-01-01", "a date or a text", '"2026-01-01"'),
    ("2026-02-30", "no date, or a text", '"2026-02-30"'),
    ("2026-01-01 10:00:00", "a time or a text", '"2026-01-01 10:00:00"'),
    ("yes", "true or a text", 'write true; if it is a text, write it in quotes, "yes"'),
    ("No", "false or a text", 'write false; if it is a text, write it in quotes, "No"'),
    ("on", "true or a text", 'in quotes, "on"'),
    ("OFF", "false or a text", 'in quotes, "OFF"'),
    ("<<", "a merge or a text", '"<<"'),
    ("=", "a default or a text", '"="'),
]


@pytest.mark.parametrize(("text", "_readings", "cure"), UNCLEAR, ids=lambda value: str(value)[:20])
@pytest.mark.parametrize(
    ("old", "new", "key"),
    [
        (LEVEL, "  battery_level: {{input: {}}}", "readings.battery_level.input"),
        (STATE, "  inverter_state: {{input: 110, labels: {{0: standby, 1: {}}}}}", "readings.inverter_state.labels.1"),
        (STATE, "  inverter_state: {{input: 110, labels: {{0: standby, {}: x}}}}", None),
        (LOOP, "  loop: {{input: 130, invalid: [7, {}], name: X}}", "readings.loop.invalid[1]"),
        (LOOP, "  loop: {{input: 130, name: {}}}", "readings.loop.name"),
        (RESERVE, "  reserve_level: {{holding: 201, min: {}}}", "controls.reserve_level.min"),
        ("  crosses_midnight: true", "  crosses_midnight: {}", "schedule.crosses_midnight"),
        ("title: Sample", "title: {}", "title"),
        ("title: Sample", "title: Sample\n? {}\n: 1", None),
    ],
)
def test_what_can_be_read_in_two_ways_is_refused_once_and_with_what_to_write(
    tmp_path: Path, text: str, _readings: str, cure: str, old: str, new: str, key: str | None
) -> None:
    sample = SAMPLE.replace('  latest_end: "24:00"', '  crosses_midnight: true\n  latest_end: "24:00"')
    assert sample.count(old) == 1
    found = problems(tmp_path, sample.replace(old, new.format(text)))
    assert len(found) == 1, [str(one) for one in found]
    (problem,) = found
    assert key is None or problem.key == key
    assert problem.line in {sample[: sample.index(old)].count("\n") + more for more in (1, 2)}
    assert text in problem.reason
    assert cure in problem.cure


@pytest.mark.parametrize("text", [text for text, _, _ in UNCLEAR])
def test_in_quotes_all_of_it_is_a_text(tmp_path: Path, text: str) -> None:
    made = load(tmp_path, SAMPLE.replace("title: Sample", f'title: "{text}"'))
    assert made.title == text
    made = load(tmp_path, SAMPLE.replace("1: running", f"1: '{text}'"))
    assert made.readings["inverter_state"].labels[1] == text


@pytest.mark.parametrize(
    ("text", "number"), [("130", 130), ("0", 0), ("+130", 130), ("0x82", 130), ("0X82", None), ("130.0", None)]
)
def test_plain_numbers_are_what_they_say(tmp_path: Path, text: str, number: int | None) -> None:
    text = SAMPLE.replace(LOOP, f"  loop: {{input: {text}, name: Loop}}")
    if number is None:
        assert [problem.key for problem in problems(tmp_path, text)] == ["readings.loop.input"]
    else:
        point = load(tmp_path, text).readings["loop"].point
        assert (point.table, point.first) == (Table.INPUT, number)


@pytest.mark.parametrize("text", [".inf", "-.inf", ".nan", "+.INF"])
@pytest.mark.parametrize(
    ("old", "new", "key"),
    [
        (LOOP, "  loop: {{input: 130, scale: {}, name: X}}", "readings.loop.scale"),
        (RESERVE, "  reserve_level: {{holding: 201, max: {}}}", "controls.reserve_level.max"),
        (LEVEL, "  battery_level: {{input: {}}}", "readings.battery_level.input"),
        (CODE, "  code: {{input: 7, expect: [{}]}}", "identity.code.expect"),
    ],
)
def test_what_is_no_ordinary_number_is_refused(tmp_path: Path, text: str, old: str, new: str, key: str) -> None:
    assert [problem.key for problem in problems(tmp_path, SAMPLE.replace(old, new.format(text)))] == [key]


@pytest.mark.parametrize("second", ["1", "0x1", '"1"', "1.0", "true", "+1"])
def test_a_key_that_means_the_same_twice_is_refused(tmp_path: Path, second: str) -> None:
    """As keys of a set 1, 0x1, 1.0 and true are one: whichever stood last would have been taken."""
    found = problems(tmp_path, SAMPLE.replace("1: running", f"1: running, {second}: stopped"))
    assert [problem.reason for problem in found] == ["this key stands twice"]


def test_all_other_mistakes_are_told_at_the_same_time(tmp_path: Path) -> None:
    text = SAMPLE.replace(LOOP, "  loop: {input: 0130, name: Loop}").replace("min: 10, max: 100, step: 1", "min: ten")
    assert [problem.key for problem in problems(tmp_path, text)] == [
        "readings.loop.input",
        "controls.reserve_level.min",
    ]
