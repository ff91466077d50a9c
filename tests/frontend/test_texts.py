"""The card's texts, held against its modules: each that a module asks for is there, and none is there for nothing."""

import json
import re
from pathlib import Path

from custom_components import chargehand

HERE = Path(chargehand.__file__).parent
TEXTS: dict[str, str] = json.loads((HERE / "translations" / "en.json").read_text())["config_panel"]["day"]
MODULES = {path.name: path.read_text() for path in sorted((HERE / "frontend").glob("*.js"))}

ASKED = re.compile(r"""\bt\(\s*"(?P<key>[^"]+)"(?P<values>,\s*\{(?P<given>[^{}]*)\})?\s*\)""")
"""A text asked for by its whole key, and what is filled in where that is written out."""

MADE = re.compile(r"`(?:component\.\w+\.config_panel\.day\.)?(?P<key>(?:[a-z0-9_]|\$\{[^{}]*\})+)`")
"""A key made of parts."""

PLACEHOLDER = re.compile(r"\{(\w+)")


def test_each_text_that_is_asked_for_is_there_with_what_is_filled_in() -> None:
    asked = [(name, found) for name, source in MODULES.items() for found in ASKED.finditer(source)]
    assert len(asked) > 10
    for name, found in asked:
        wanted = set(PLACEHOLDER.findall(TEXTS[found["key"]]))
        given = {part.split(":")[0].strip() for part in re.split(r",(?![^(]*\))", found["given"] or "")}
        assert wanted <= given, (name, found["key"], wanted - given)


def test_no_text_is_there_for_nothing() -> None:
    sources = "\n".join(MODULES.values())
    quoted = set(re.findall(r'"([a-z][a-z0-9_]*)"', sources))
    made = [re.sub(r"\$\{[^}]*\}", "[a-z0-9_]+", found["key"]) for found in MADE.finditer(sources)]
    shapes = [re.compile(shape) for shape in made if re.match("[a-z]", shape)]
    assert {key for key in TEXTS if key not in quoted and not any(one.fullmatch(key) for one in shapes)} == set()


def test_texts_stand_flat_so_that_the_platform_takes_them_as_they_are() -> None:
    assert {key for key, text in TEXTS.items() if not isinstance(text, str)} == set()
    assert all(re.fullmatch(r"[a-z0-9_]+", key) for key in TEXTS)
