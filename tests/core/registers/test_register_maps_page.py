"""The page about the format, tried: each of its examples loads where the page says that it stands."""

import re
from pathlib import Path

import pytest

from custom_components.chargehand.core.registers import load_map

from .test_schema import accepted

PAGE = (Path(__file__).parents[3] / "docs" / "register-maps.md").read_text(encoding="utf-8")
WHOLE, *BLOCKS = re.findall(r"^```yaml\n(.*?)^```$", PAGE, re.DOTALL | re.MULTILINE)
INLINE = [one for one in re.findall(r"`((?:\w+: )?\{[^`]*\})`", PAGE) if "N}" not in one]
"""What stands in a line of text; `{input: N}` is no example."""

BEGINNING = """\
chargehand_map: 1
title: Comfrey C2
maker: Comfrey
model: C2
source: the examples of a page
readings:
  battery_level: {input: 21}
"""
TIMES = "windows: [{start: {holding: 10, layout: hhmm}, end: {holding: 11, layout: hhmm}}]"
FIELD = "schedule: {charge: {count: 2, holding: 10, stride: 9, fields: {start: {at: 7, layout: hhmm}, END, EXAMPLE}}}"
PLACES = {
    "": "  own: {EXAMPLE, name: Own}",
    **dict.fromkeys(("direction", "labels", "flags"), "  own: {input: 41, EXAMPLE, name: Own}"),
    "clock": "EXAMPLE",
    "shared": f"schedule: {{charge: {{{TIMES}, EXAMPLE}}}}",
    **dict.fromkeys(("power", "active", "mode", "days"), FIELD.replace("END", "end: {at: 8, layout: hhmm}")),
    "duration": FIELD.replace("END, ", ""),
}
"""Where an example stands in a file, by its key; one without a key is a reading."""
DAYS_OF_ALL = f"schedule: {{EXAMPLE, charge: {{{TIMES}}}}}"


def key_of(example: str) -> str:
    """The key of an example, none if it is a value."""
    return "" if example[0] == "{" else example.partition(":")[0]


def file_with(example: str) -> str:
    """A whole file with an example of one line."""
    place = DAYS_OF_ALL if example.startswith("days: {holding") else PLACES[key_of(example)]
    return f"{BEGINNING}{place.replace('EXAMPLE', example if key_of(example) else example[1:-1])}\n"


@pytest.mark.parametrize("example", INLINE)
def test_each_example_in_a_line_can_stand_in_a_map(tmp_path: Path, example: str) -> None:
    path = tmp_path / "comfrey_c2.yaml"
    path.write_text(file_with(example), encoding="utf-8")
    assert load_map(path).id == "comfrey_c2"
    assert accepted(path.read_text(encoding="utf-8"))


def test_the_page_has_examples_of_all_these_kinds() -> None:
    assert {key_of(example) for example in INLINE} == PLACES.keys()


def test_the_whole_file_and_the_longer_examples_load(tmp_path: Path) -> None:
    path = tmp_path / "comfrey_c2.yaml"
    list_of_times, lists = BLOCKS
    enabled = "controls: {list_enabled: {holding: 800, bit: 0, name: List enabled}}\n"
    for text in (WHOLE, BEGINNING + enabled + list_of_times, f"{BEGINNING}{lists}  charge: {{{TIMES}}}\n"):
        path.write_text(text, encoding="utf-8")
        assert load_map(path).schedule is not None
        assert accepted(text)
