"""The JSON Schema and the reference page, made from the tables, against the loader and the `jsonschema` library."""

import json
from pathlib import Path

import pytest
import yaml
from jsonschema import Draft202012Validator  # type: ignore[import-untyped]

from custom_components.chargehand.core.registers import KNOWN_READINGS
from custom_components.chargehand.core.registers.map_file.format import LINE, SCHEDULE
from custom_components.chargehand.core.registers.map_file.format_of_values import CONTROL, READING
from custom_components.chargehand.core.registers.map_file.reference import REFERENCE, reference
from custom_components.chargehand.core.registers.map_file.schema import SCHEMA, map_schema

from .mistake import Mistake
from .mistakes_around import MISTAKES_AROUND
from .mistakes_in_points import MISTAKES_IN_POINTS
from .mistakes_in_slots import MISTAKES_IN_SLOTS
from .mistakes_in_values import MISTAKES_IN_VALUES
from .mistakes_in_windows import MISTAKES_IN_WINDOWS
from .samples import MAPS, SAMPLE

VALIDATOR = Draft202012Validator(map_schema())
ANEW = "write it anew: python -m custom_components.chargehand.core.registers"

TOLD_BY_A_KEY_ALONE = (
    "missing",
    "not known",
    "is none of",
    "out of range",
    "is not a whole",
    "is not a number",
    "no such",
)


def as_json(value: object) -> object:
    """YAML as editors hand it to a schema: every key is a text, `on` and `off` too (YAML 1.2.2, 10.3.2; PyYAML reads YAML 1.1)."""
    if isinstance(value, dict):
        names = {True: "on", False: "off"}
        return {names[key] if isinstance(key, bool) else str(key): as_json(item) for key, item in value.items()}
    return [as_json(item) for item in value] if isinstance(value, list) else value


def accepted(text: str) -> bool:
    return bool(VALIDATOR.is_valid(as_json(yaml.safe_load(text))))


def test_the_schema_is_one() -> None:
    Draft202012Validator.check_schema(map_schema())


def test_the_schema_that_is_shipped_is_current() -> None:
    assert json.loads(SCHEMA.read_text(encoding="utf-8")) == map_schema(), ANEW


def test_the_reference_that_is_shipped_is_current() -> None:
    assert REFERENCE.read_text(encoding="utf-8") == reference(), ANEW


def test_the_sample_is_accepted() -> None:
    assert accepted(SAMPLE)


@pytest.mark.parametrize("path", sorted(MAPS.glob("*.yaml")), ids=lambda path: path.stem)
def test_every_bundled_map_is_accepted(path: Path) -> None:
    assert accepted(path.read_text(encoding="utf-8"))


PLAIN = [
    mistake
    for mistake in (
        *MISTAKES_AROUND,
        *MISTAKES_IN_POINTS,
        *MISTAKES_IN_SLOTS,
        *MISTAKES_IN_VALUES,
        *MISTAKES_IN_WINDOWS,
    )
    if any(word in mistake.reason for word in TOLD_BY_A_KEY_ALONE)
]


@pytest.mark.parametrize("mistake", PLAIN, ids=lambda mistake: f"{mistake.key}: {mistake.reason}")
def test_an_editor_sees_what_one_key_tells(mistake: Mistake) -> None:
    assert not accepted(SAMPLE.replace(mistake.old, mistake.new))


def test_the_reference_names_every_key_and_known_reading() -> None:
    page = reference()
    for key in (*LINE, *READING, *CONTROL, *SCHEDULE, *KNOWN_READINGS):
        assert f"| `{key}` |" in page
    assert "see below |  | first" not in page


def test_the_reference_is_a_page_of_whole_tables() -> None:
    widths = [line.count("|") - line.count("\\|") for line in reference().splitlines() if line.startswith("|")]
    assert set(widths) == {4, 5, 6}
