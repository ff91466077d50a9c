"""A blueprint is a trigger, a condition and a call: what is worked out is Python."""

from pathlib import Path

import pytest

from tests.blueprints.house import FOLDER

BLUEPRINTS = sorted(FOLDER.glob("*.yaml"))
LONGEST, LONGEST_ACTIONS = 150, 40
"""Lines of a whole blueprint, and of its actions."""


def test_there_are_five() -> None:
    assert len(BLUEPRINTS) == 5


@pytest.mark.parametrize("path", BLUEPRINTS, ids=lambda path: path.stem)
def test_a_blueprint_is_short(path: Path) -> None:
    lines = path.read_text(encoding="utf-8").splitlines()
    assert len(lines) <= LONGEST
    assert len(lines) - lines.index("actions:") <= LONGEST_ACTIONS
