"""What is doubtful in a map is told, and never refused."""

from pathlib import Path

import pytest

from custom_components.chargehand.core.registers import listed_doubts, load_map

from .samples import HEAD, MAPS, SAMPLE, load


def doubts(folder: Path, text: str) -> list[tuple[int, str]]:
    """The line and key of each."""
    return [(doubt.line, doubt.key) for doubt in load(folder, text).doubts]


def test_the_sample_has_none(tmp_path: Path) -> None:
    assert doubts(tmp_path, SAMPLE) == []


@pytest.mark.parametrize("path", sorted(MAPS.glob("*.yaml")), ids=lambda path: path.stem)
def test_no_bundled_map_has_any(path: Path) -> None:
    assert load_map(path).doubts == ()


@pytest.mark.parametrize("key", ["battery_power", "grid_power"])
def test_a_power_of_which_nothing_says_which_way_it_counts(tmp_path: Path, key: str) -> None:
    ways = "charging: 1, discharging: 2" if key == "battery_power" else "importing: 1, exporting: 2"
    positive = "discharging" if key == "battery_power" else "importing"
    bare = f"{HEAD}readings:\n  {key}: {{input: 5}}\n"
    assert doubts(tmp_path, bare) == [(7, f"readings.{key}")]
    assert doubts(tmp_path, bare.replace("input: 5", f"input: 5, positive: {positive}")) == []
    assert doubts(tmp_path, bare.replace("input: 5", f"input: 5, direction: {{input: 6, {ways}}}")) == []


def test_the_first_are_told_and_how_many_more(tmp_path: Path) -> None:
    def told(count: int) -> tuple[str, ...]:
        rows = "".join(f"  c{number}: {{holding: {number}}}\n" for number in range(count))
        return listed_doubts(
            load(tmp_path, f"{HEAD}readings:\n  battery_level: {{input: 1}}\ncontrols:\n{rows}").doubts
        )

    assert [len(told(20)), len(told(21)), len(told(1022))] == [20, 21, 21]
    assert (told(21)[-1], told(1022)[-1]) == ("and one more warning", "and 1,002 more warnings")


def test_what_has_no_direction_is_not_asked_for_one(tmp_path: Path) -> None:
    rows = "  solar_power: {input: 5}\n  load_power: {input: 6}\n  own: {input: 7, name: Own}\n"
    assert doubts(tmp_path, f"{HEAD}readings:\n{rows}") == []


def test_a_number_or_limit_without_a_highest_value(tmp_path: Path) -> None:
    text = SAMPLE.replace("min: 10, max: 100, step: 1", "min: 10, step: 1").replace(
        "unit: A, min: 0, max: 100", "unit: A"
    )
    assert doubts(tmp_path, text) == [(20, "controls.reserve_level"), (31, "schedule.charge.fields.current")]
