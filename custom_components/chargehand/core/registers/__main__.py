"""Check register maps that are named, or write what is made from the tables of the format anew: reference page and schema."""

import json
import sys
from collections.abc import Sequence
from pathlib import Path

from .map_file import REFERENCE, SCHEMA, load_map, map_schema, reference
from .register_map import MapInvalid, listed_doubts


def is_right(path: Path) -> bool:
    """Print what is wrong with a map, or doubtful in it, and return whether it can be used."""
    try:
        doubts = load_map(path).doubts
    except (MapInvalid, OSError) as fault:
        sys.stdout.write(f"{fault}\n")
        return False
    sys.stdout.writelines(f"{line}\n" for line in listed_doubts(doubts) or (f"{path.name}: nothing is wrong",))
    return True


def check(paths: Sequence[Path]) -> int:
    """Check each map, and return the exit code: 1 when one of them cannot be used."""
    right = [is_right(path) for path in paths]
    return int(not all(right))


def write() -> None:
    """Write the reference page and the schema for editors."""
    REFERENCE.write_text(reference(), encoding="utf-8")
    SCHEMA.write_text(json.dumps(map_schema(), indent=2, ensure_ascii=False) + "\n", encoding="utf-8")


if named := sys.argv[1:]:
    sys.exit(check([Path(name) for name in named]))
write()
