"""The manifest, the quality scale and the texts, held against the code: what the platform's own checks ask of an integration."""

import ast
import json
import string
from pathlib import Path
from typing import Any

import yaml
from homeassistant.const import Platform
from homeassistant.core import HomeAssistant
from homeassistant.loader import async_get_integration

from custom_components import chargehand

HERE = Path(chargehand.__file__).parent
FILES = sorted(HERE.rglob("*.py"))

type Json = dict[str, Any]


def read(name: str) -> Json:
    loaded: Json = json.loads((HERE / name).read_text())
    return loaded


def components_used(path: Path) -> set[str]:
    """The platform's components that a file imports from."""
    used = set()
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("homeassistant.components."):
            used.add(str(node.module).split(".")[2])
    return used


def test_every_component_that_is_imported_is_declared() -> None:
    """Entity platforms need no declaration, nor does the component whose platform the file is (logbook.py, repairs.py)."""
    manifest = read("manifest.json")
    declared = {*manifest["dependencies"], *manifest["after_dependencies"], *map(str, Platform)}
    missing = {path.name: components_used(path) - declared - {path.stem} for path in FILES}
    assert {name: found for name, found in missing.items() if found} == {}


RAISED = {
    "refused": "",
    "_raised": "",
    "Reason": "reason_",
    "of": "reason_",
    "ValueRefused": "reason_",
    "fault": "reason_",
    "text": "",
    "sentence": "",
    "words": "",
    "mistake": "map_mistake_",
    "cure": "map_cure_",
    "asked": "map_key_",
}
"""Calls that name a text, and what its key begins with."""


def texts_named(path: Path) -> dict[str, set[str] | None]:
    """Keys of exceptions that a file names outright, with what it fills in; None where that is not written out."""
    named: dict[str, set[str] | None] = {}
    for node in ast.walk(ast.parse(path.read_text())):
        if not isinstance(node, ast.Call) or not isinstance(node.func, ast.Name | ast.Attribute):
            continue
        call = node.func.id if isinstance(node.func, ast.Name) else node.func.attr
        if call not in RAISED:
            continue
        words = [arg.value for arg in node.args if isinstance(arg, ast.Constant) and isinstance(arg.value, str)]
        keywords = {word.arg: word.value for word in node.keywords if word.arg is not None}
        key = keywords.get("key")
        if isinstance(key, ast.Constant) and isinstance(key.value, str):
            words.append(key.value)
        filled: set[str] | None = set(keywords)
        if call == "asked":
            filled = set()
        elif call == "Reason":
            values = keywords.get("values")
            written = values.keys if isinstance(values, ast.Dict) else []
            filled = {one.value for one in written if isinstance(one, ast.Constant) and isinstance(one.value, str)}
            filled = filled or None
        elif len(keywords) < len(node.keywords):
            filled = None
        if words:
            named[RAISED[call] + words[0]] = filled
    return named


def test_every_error_that_is_raised_has_a_text_with_what_is_filled_in() -> None:
    texts = read("translations/en.json")["exceptions"]
    seen = 0
    for path in FILES:
        for key, filled in texts_named(path).items():
            asked = {name for _, name, _, _ in string.Formatter().parse(texts[key]["message"]) if name}
            assert filled is None or filled == asked, (path.name, key)
            seen += 1
    assert seen > 30


def test_no_text_about_register_maps_is_left_over() -> None:
    texts = {key for key in read("translations/en.json")["exceptions"] if key.startswith("map_")}
    named = {key for path in FILES for key in texts_named(path)}
    assert texts - named == {"map_invalid"}, "this one frames the others"
    assert len(texts) > 200


def test_every_field_of_an_action_has_a_name_and_every_action_an_icon() -> None:
    actions = yaml.safe_load((HERE / "services.yaml").read_text())
    texts, icons = read("translations/en.json")["services"], read("icons.json")["services"]
    assert actions.keys() == texts.keys() == icons.keys()
    for action, described in actions.items():
        assert described["fields"].keys() == texts[action]["fields"].keys(), action


def test_the_manifest_is_in_the_order_that_the_platform_wants() -> None:
    keys = list(read("manifest.json"))
    assert keys == ["domain", "name", *sorted(keys[2:])]


async def test_everything_declared_is_there(hass: HomeAssistant) -> None:
    for domain in read("manifest.json")["after_dependencies"]:
        assert (await async_get_integration(hass, domain)).domain == domain


def test_every_rule_of_the_scale_is_answered_and_what_is_not_done_says_why() -> None:
    rules = yaml.safe_load((HERE / "quality_scale.yaml").read_text())["rules"]
    for rule, answer in rules.items():
        if answer != "done":
            assert answer["status"] in {"done", "exempt", "todo"}, rule
            assert answer["comment"], rule
