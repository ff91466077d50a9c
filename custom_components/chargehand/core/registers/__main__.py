"""Check register maps that are named, or write what is made from the tables of the format anew: reference page and schema."""

import json
import sys
from collections.abc import Sequence
from pathlib import Path

from .map_file import REFERENCE, SCHEMA, load_map, map_schema, reference
from .register_map import MapInvalid


def wrong_with(path: Path) -> str:
    """Return what is wrong with a map; nothing when it is right."""
    try:
        load_map(path)
    except (MapInvalid, OSError) as fault:
        return str(fault)
    return ""


def check(paths: Sequence[Path]) -> int:
    """Print what is wrong with each map, and return the exit code."""
    found = {path: wrong_with(path) for path in paths}
    for path, wrong in found.items():
        sys.stdout.write(f"{wrong or f'{path.name}: nothing is wrong'}\n")
    return int(any(found.values()))


def write() -> None:
    """Write the reference page and the schema for editors."""
    REFERENCE.write_text(reference(), encoding="utf-8")
    SCHEMA.write_text(json.dumps(map_schema(), indent=2, ensure_ascii=False) + "\n", encoding="utf-8")


if named := sys.argv[1:]:
    sys.exit(check([Path(name) for name in named]))
write()
