"""The blueprints' forms, as the page of Home Assistant shows them."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from homeassistant.util.yaml import load_yaml

from tests.blueprints.house import FOLDER


def inputs(sections: dict[str, Any]) -> Iterator[tuple[str, dict[str, Any]]]:
    """The inputs of a form, those of its sections too."""
    for name, one in sections.items():
        if "input" in one:
            yield from inputs(one["input"])
        else:
            yield name, one


@pytest.mark.parametrize("path", sorted(FOLDER.glob("*.yaml")), ids=lambda path: path.stem)
def test_a_field_that_may_stay_empty_is_shown(path: Path) -> None:
    """The page shows no field for a number whose default is null, so that nobody can fill it in (seen in a browser, Home Assistant 2026.10).

    A slider has no place for an empty value, so that such a number is a box.
    """
    form = load_yaml(path)
    assert isinstance(form, dict)
    seen = 0
    for name, one in inputs(form["blueprint"]["input"]):
        seen += 1
        assert one.get("default", 0) is not None, name
        if one.get("default") == "" and "number" in one["selector"]:
            assert one["selector"]["number"].get("mode") == "box", name
    assert seen > 3
