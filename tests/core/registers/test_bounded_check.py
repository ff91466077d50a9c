"""Files made to cost time or fill the screen: the work of a check grows as the file does, and all is said in few words."""

import pickle
import sys
from pathlib import Path

import pytest

from custom_components.chargehand.core.registers import MapInvalid, Problem

from .costly_files import FILES
from .samples import HEAD, load

SMALL, LARGE = 16 * 1024, 64 * 1024
MOST_LISTED = 20
"""Mistakes that are listed one by one (docs/register-maps.md)."""

LONGEST_TEXT = 40_000
"""Characters of all that is shown: twenty mistakes and how many more."""

RIGHT = {"one register, one type", "sums of many", "numbers without a max"}
"""Files that have no mistake."""

FEWEST_LINES = 300_000
"""Lines run below which growth says nothing: a fixed number of them is for the words of the mistakes that are listed."""


def checked(folder: Path, text: str) -> MapInvalid | None:
    """Load a file and return what is wrong."""
    try:
        load(folder, text)
    except MapInvalid as invalid:
        return invalid
    return None


def lines_run(folder: Path, text: str) -> int:
    """How many lines of Python a check runs: work that is the same on every machine."""
    ran = 0

    def count(*_where: object) -> None:
        nonlocal ran
        ran += 1

    tool = next(number for number in range(6) if sys.monitoring.get_tool(number) is None)
    sys.monitoring.use_tool_id(tool, "lines run")
    sys.monitoring.register_callback(tool, sys.monitoring.events.LINE, count)
    sys.monitoring.set_events(tool, sys.monitoring.events.LINE)
    try:
        checked(folder, text)
    finally:
        sys.monitoring.set_events(tool, 0)
        sys.monitoring.free_tool_id(tool)
    return ran


@pytest.mark.parametrize("name", FILES)
def test_the_work_of_a_check_grows_as_the_file_does(tmp_path: Path, name: str) -> None:
    """Four times as long a file: sixteen times the work where it grows with the square, 64 with the cube."""
    few, many = lines_run(tmp_path, FILES[name](SMALL)), lines_run(tmp_path, FILES[name](LARGE))
    assert many < 6 * max(few, FEWEST_LINES)


@pytest.mark.parametrize("name", FILES)
def test_what_is_wrong_is_said_in_few_words(tmp_path: Path, name: str) -> None:
    text = FILES[name](LARGE)
    assert LARGE - 6000 < len(text) <= LARGE
    invalid = checked(tmp_path, text)
    if invalid is None:
        assert name in RIGHT, "all others have a mistake"
        return
    lines = str(invalid).splitlines()
    assert len(str(invalid)) < LONGEST_TEXT
    more = len(invalid.problems) - MOST_LISTED
    assert len(lines) == min(len(invalid.problems), MOST_LISTED + 1)
    assert more < 1 or lines[-1] in {f"and {more:,} more mistakes", "and one more mistake"}


def test_every_one_of_many_mistakes_is_counted(tmp_path: Path) -> None:
    rows = "".join(f" a{number}: {{input: {number}}}\n" for number in range(3000))
    invalid = checked(tmp_path, f"{HEAD}readings:\n{rows}")
    assert invalid is not None
    assert len(invalid.problems) == 3000
    assert str(invalid).splitlines()[-1] == "and 2,980 more mistakes"
    first: tuple[Problem, ...] = invalid.problems[:MOST_LISTED]
    assert [problem.line for problem in first] == list(range(7, 27)), "the first of the file"
    assert str(invalid).splitlines()[:MOST_LISTED] == [str(problem) for problem in first]


def test_one_mistake_too_many_is_counted_as_one(tmp_path: Path) -> None:
    rows = "".join(f" a{number}: {{input: {number}}}\n" for number in range(MOST_LISTED + 1))
    assert str(checked(tmp_path, f"{HEAD}readings:\n{rows}")).splitlines()[-1] == "and one more mistake"


def test_what_is_wrong_survives_being_handed_to_another_process(tmp_path: Path) -> None:
    """An exception raised in a worker process comes back pickled."""
    invalid = checked(tmp_path, f"{HEAD}readings:\n a: {{input: 1}}\n b: {{input: 2}}\n")
    assert invalid is not None
    again = pickle.loads(pickle.dumps(invalid))
    assert isinstance(again, MapInvalid)
    assert again.problems == invalid.problems
    assert len(again.problems) == 2
    assert (str(again), again.listed()) == (str(invalid), invalid.listed())
