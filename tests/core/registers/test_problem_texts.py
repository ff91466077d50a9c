"""What is wrong with a map is put into words once, at the edge: until then it is keys of texts and values."""

import builtins
import re
import string
from collections.abc import Iterator
from pathlib import Path

import pytest

from custom_components.chargehand.core.english import TEXTS, english
from custom_components.chargehand.core.registers import MapInvalid, Problem, cure, mistake
from custom_components.chargehand.core.registers.map_file.format import FIELDS
from custom_components.chargehand.core.registers.map_file.format_of_values import AT, HOLDING
from custom_components.chargehand.core.registers.map_file.reference import SECTIONS
from custom_components.chargehand.core.registers.map_file.schema import map_schema
from custom_components.chargehand.core.registers.register_map.catalogue import BINARY_CLASSES, SENSOR_CLASSES

from .mistake import Mistake
from .mistakes_around import MISTAKES_AROUND
from .mistakes_in_points import MISTAKES_IN_POINTS
from .mistakes_in_values import MISTAKES_IN_VALUES
from .mistakes_in_windows import MISTAKES_IN_WINDOWS
from .samples import HEAD, SAMPLE, load

MISTAKES = (*MISTAKES_AROUND, *MISTAKES_IN_POINTS, *MISTAKES_IN_VALUES, *MISTAKES_IN_WINDOWS)
OF_PYTHON = {"true", "false", "nan"}
"""How Python writes values."""


def letters(text: str) -> set[str]:
    """The words of a text: runs of three letters and more."""
    return {word.lower() for word in re.findall("[A-Za-z]{3,}", text)}


def of_the_format(schema: object) -> Iterator[str]:
    """Keys and choices of the format; what describes them is left out."""
    if isinstance(schema, list):
        for item in schema:
            yield from of_the_format(item)
    if isinstance(schema, dict):
        yield from schema.get("properties", ())
        yield from map(str, schema.get("enum", ()))
        for item in schema.values():
            yield from of_the_format(item)


def without_words(key: str, /, **values: object) -> str:
    """A text in a language that has no words: its values alone."""
    fields = [name for _, name, _, _ in string.Formatter().parse(TEXTS[key]) if name]
    assert set(fields) == values.keys(), key
    return " ".join(str(values[name]) for name in fields)


def wrong(folder: Path, text: str) -> MapInvalid:
    with pytest.raises(MapInvalid) as raised:
        load(folder, text)
    return raised.value


@pytest.mark.parametrize("planted", MISTAKES, ids=lambda planted: f"{planted.key}: {planted.reason}")
def test_no_word_comes_from_anywhere_but_the_texts(tmp_path: Path, planted: Mistake) -> None:
    """Without the texts' own words there are only words of the file and of the format."""
    text = SAMPLE.replace(planted.old, planted.new)
    (problem,) = wrong(tmp_path, text).problems
    known = letters(f"sample.yaml {text} {' '.join((*of_the_format(map_schema()), *BINARY_CLASSES, *SENSOR_CLASSES))}")
    assert letters(problem.text(without_words)) - known - OF_PYTHON == set()


def test_how_many_more_there_are_is_a_text_too(tmp_path: Path) -> None:
    def last_line(mistakes: int) -> str:
        rows = "".join(f" a{number}: {{input: {number}}}\n" for number in range(mistakes))
        return wrong(tmp_path, f"{HEAD}readings:\n{rows}").listed(without_words)[-1]

    assert (last_line(1020), last_line(21)) == ("1,000", "")


def test_a_key_that_has_to_be_there_is_asked_for_with_a_text() -> None:
    tables = [keys for _, _, keys in SECTIONS]
    rows = [HOLDING, AT, *(key for keys in (*tables, *FIELDS.values()) for key in keys.values() if key.required)]
    assert len(rows) > 15
    for row in rows:
        assert row.meaning == TEXTS[f"map_key_{row.text}"]


def test_the_words_are_at_hand_before_something_is_wrong(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """An error may be logged on the event loop, where no file can be opened."""
    found = wrong(tmp_path, SAMPLE.replace("maker: Nobody", "maker: 5"))
    monkeypatch.setattr(builtins, "open", None)
    monkeypatch.setattr(Path, "open", None)
    assert "maker: 5 is not a text; give a text" in str(found)


def test_a_text_that_is_not_there_is_its_key() -> None:
    assert english("map_mistake_of_another_age", value=5) == "map_mistake_of_another_age"


def test_the_same_mistake_is_listed_once() -> None:
    """Problems are told apart by all that they say."""

    def problem(value: int) -> Problem:
        reason = mistake("out_of_range", value=value)
        return Problem(file="a", line=1, key="b", reason=reason, cure=cure("above_0"))

    assert len({problem(5), problem(5), problem(6)}) == 2
