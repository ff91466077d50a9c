"""Where files stand: what the platform demands in the integration's root, and nobody reaching past a folder's `__init__`."""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

from custom_components import chargehand

ROOT = Path(chargehand.__file__).parent

PLATFORM_FILES = {
    "__init__", "binary_sensor", "button", "calendar", "condition", "config_flow", "const", "coordinator", "diagnostics",
    "entity", "event", "logbook", "number", "repairs", "select", "sensor", "switch", "system_health", "time", "trigger",
}  # fmt: skip
"""What the platform looks for by its name, and the three that its conventions put beside them."""

LONGEST = 250
LONGER: dict[str, str] = {}
"""Files with more lines, and why."""


def modules() -> Iterator[tuple[tuple[str, ...], ast.Module]]:
    for path in sorted(ROOT.rglob("*.py")):
        parts = path.relative_to(ROOT).with_suffix("").parts
        yield parts, ast.parse(path.read_text(encoding="utf-8"))


def reached_past(me: tuple[str, ...], tree: ast.Module) -> Iterator[str]:
    """Return imports of one module that go deeper than the outermost folder which the module itself is not in."""
    for node in ast.walk(tree):
        if not (isinstance(node, ast.ImportFrom) and node.level):
            continue
        folder = me[: len(me) - node.level]
        target = (*folder, *(node.module or "").split("."))
        # `core` groups folders and hands out nothing of its own.
        common = next(
            (at for at, (one, other) in enumerate(zip(me[:-1], target, strict=False)) if one != other), len(me) - 1
        )
        outermost = common + (2 if target[common : common + 1] == ("core",) else 1)
        is_package = (ROOT.joinpath(*target[:outermost])).is_dir()
        if is_package and len(target) > outermost:
            yield f"{'/'.join(me)} reaches {'.'.join(target)}"


def test_only_what_the_platform_demands_stands_in_the_root() -> None:
    assert {path.stem for path in ROOT.glob("*.py")} <= PLATFORM_FILES


def test_nobody_reaches_past_what_a_folder_hands_out() -> None:
    assert [each for me, tree in modules() for each in reached_past(me, tree)] == []


@pytest.mark.parametrize(
    ("me", "line", "past"),
    [
        ("coordinator", "from .core.modbus.gateway import Gateway", True),
        ("coordinator", "from .core.modbus import Gateway", False),
        ("actions/schedule", "from ..core.schedule.windows import Side", True),
        ("actions/schedule", "from .finding import find", False),
        ("core/schedule/image", "from ..registers import Point", False),
        ("core/schedule/image", "from ..registers.register_map import Point", True),
        ("core/registers/map_file/load", "from ..register_map import Point", False),
        ("core/registers/map_file/load", "from ..register_map.points import Point", True),
        ("actions/schedule", "from ..coordinator import Coordinator", False),
    ],
)
def test_reaching_past_is_seen(me: str, line: str, past: bool) -> None:
    assert bool(list(reached_past(tuple(me.split("/")), ast.parse(line)))) is past


def test_no_two_files_have_one_name() -> None:
    stems: dict[str, list[str]] = {}
    for parts, _ in modules():
        if parts[-1] not in ("__init__", "__main__"):
            stems.setdefault(parts[-1], []).append("/".join(parts))
    assert {stem: places for stem, places in stems.items() if len(places) > 1} == {}


def test_a_file_that_is_long_says_why() -> None:
    long = {
        "/".join(path.relative_to(ROOT).parts): lines
        for path in (*ROOT.rglob("*.py"), *ROOT.rglob("*.js"))
        if (lines := path.read_text(encoding="utf-8").count("\n")) > LONGEST
    }
    assert long.keys() == LONGER.keys(), long
