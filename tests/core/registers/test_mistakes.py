"""Every mistake in a map is found at load, all of them at once, each with its line, its key and what would be right."""

from pathlib import Path

import pytest

from custom_components.chargehand.core.registers import MapInvalid, load_map

from .mistake import Mistake
from .mistakes_around import MISTAKES_AROUND
from .mistakes_in_points import MISTAKES_IN_POINTS
from .mistakes_in_slots import MISTAKES_IN_SLOTS
from .mistakes_in_values import MISTAKES_IN_VALUES
from .mistakes_in_windows import MISTAKES_IN_WINDOWS
from .samples import HEAD, SAMPLE, load, problems

MISTAKES = (
    *MISTAKES_AROUND,
    *MISTAKES_IN_POINTS,
    *MISTAKES_IN_SLOTS,
    *MISTAKES_IN_VALUES,
    *MISTAKES_IN_WINDOWS,
)


def test_the_sample_itself_is_right(tmp_path: Path) -> None:
    assert problems(tmp_path, SAMPLE) == ()


@pytest.mark.parametrize("mistake", MISTAKES, ids=lambda mistake: f"{mistake.key}: {mistake.reason}")
def test_one_mistake_gives_one_message(tmp_path: Path, mistake: Mistake) -> None:
    assert SAMPLE.count(mistake.old) == 1
    found = problems(tmp_path, SAMPLE.replace(mistake.old, mistake.new))
    assert len(found) == 1, [str(problem) for problem in found]
    (problem,) = found
    line = SAMPLE[: SAMPLE.index(mistake.old)].count("\n") + 1 + mistake.lines_on
    assert str(problem).startswith(f"sample.yaml:{max(line, 1)}: {mistake.key}: ")
    assert mistake.reason in problem.reason
    assert mistake.cure in problem.cure


def test_a_map_without_any_reading_is_refused(tmp_path: Path) -> None:
    (problem,) = problems(tmp_path, f"{HEAD}readings: {{}}\n")
    assert (problem.key, problem.line) == ("readings", 6)
    assert "battery_level" in problem.cure


def test_all_mistakes_of_a_file_are_told_at_once(tmp_path: Path) -> None:
    planted = [
        mistake
        for mistake in MISTAKES
        if mistake.key
        in {
            "modell",
            "line.unit",
            "identity.code.expect",
            "readings.battery_power.scale",
            "readings.inverter_state",
            "controls.reserve_level.max",
            "schedule.step_minutes",
        }
    ]
    chosen = {mistake.old: mistake for mistake in planted}.values()
    text = SAMPLE
    for mistake in chosen:
        text = text.replace(mistake.old, mistake.new)
    with pytest.raises(MapInvalid) as raised:
        load(tmp_path, text)
    assert [problem.key for problem in raised.value.problems] == [
        mistake.key for mistake in sorted(chosen, key=lambda one: SAMPLE.index(one.old))
    ]
    assert len(chosen) == 7
    assert str(raised.value).splitlines() == [str(problem) for problem in raised.value.problems]


def test_a_bad_line_section_does_not_spoil_the_addresses(tmp_path: Path) -> None:
    text = SAMPLE.replace("from_0", "from_1").replace("longest_read: 100", "longest_read: 999")
    text = text.replace("battery_level: {input: 360", "battery_level: {input: 65536")
    assert [problem.key for problem in problems(tmp_path, text)] == ["line.longest_read"]


def test_a_window_that_is_written_whole_fits_into_one_write(tmp_path: Path) -> None:
    text = SAMPLE.replace("longest_read: 100", "longest_write: 5").replace(
        "count: 3", "count: 3\n    written_whole: true"
    )
    (problem,) = problems(tmp_path, text)
    assert problem.key == "schedule.charge.written_whole"
    assert "takes 6 registers, and longest_write is 5" in problem.reason


def test_register_0_does_not_exist_when_counting_from_1(tmp_path: Path) -> None:
    text = SAMPLE.replace("from_0", "from_1").replace("battery_level: {input: 360", "battery_level: {input: 0")
    (problem,) = problems(tmp_path, text)
    assert problem.key == "readings.battery_level.input"
    assert "no register 0" in problem.reason


def test_messages_count_registers_as_the_document_does(tmp_path: Path) -> None:
    text = SAMPLE.replace("from_0", "from_1").replace("loop: {input: 390", "loop: {input: 362")
    (problem,) = problems(tmp_path, text)
    assert "register 362 also belongs to readings.battery_power" in problem.reason


def test_a_map_without_readings_is_no_map(tmp_path: Path) -> None:
    (problem,) = problems(tmp_path, HEAD)
    assert (problem.key, problem.reason) == ("readings", "this key is missing")


@pytest.mark.parametrize(
    "same_place",
    [
        "  reserve: {holding: 151, name: Also read}",  # a control that is read by another name as well
        "  word: {holding: 150, name: Whole control word}",
        "  fault: {input: 110, bit: 1, name: Bit of the state}",
        "  again: {input: 130, type: s16, scale: 0.01, name: Loop again}",
        "  scaled: {input: 131, scale_at: {input: 130}, name: Scaled by the loop}",
    ],
)
def test_the_same_registers_may_be_read_twice(tmp_path: Path, same_place: str) -> None:
    assert problems(tmp_path, SAMPLE.replace("controls:", f"{same_place}\ncontrols:")) == ()


def test_a_file_that_is_not_there_is_no_mistake_in_a_map(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError):
        load_map(tmp_path / "none.yaml")
