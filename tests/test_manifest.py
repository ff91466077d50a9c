"""The manifest, the quality scale and the texts, held against the code: what the platform's own checks ask of an integration."""

import ast
import json
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
    declared = {*manifest["after_dependencies"], *map(str, Platform)}
    missing = {path.name: components_used(path) - declared - {path.stem} for path in FILES}
    assert {name: found for name, found in missing.items() if found} == {}


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
