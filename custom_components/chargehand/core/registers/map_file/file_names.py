"""Which files of a folder are register maps, and why the others are none."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice
from pathlib import Path

from ...reasons import Reason
from ..no_map import NO_MAP

ENDING = ".yaml"
FILE_NAME = re.compile(r"[a-z0-9][a-z0-9_]*")

MOST_LOOKED_AT = 500
"""Files of a folder that are looked at: it may be one in which somebody keeps something else."""


@dataclass(frozen=True, kw_only=True, slots=True)
class UnusedFile:
    """A file that lies where maps do, by its path there, and why it is none."""

    name: str
    why: Reason


def name_fault(name: str) -> Reason | None:
    """Return why a file of this name is no register map; None if it is one."""
    stem = name.removesuffix(ENDING)
    if stem == name:
        return Reason.of("file_ending", ending=ENDING)
    if stem == NO_MAP:
        return Reason.of("file_reserved", name=name)
    return None if FILE_NAME.fullmatch(stem) else Reason.of("file_name")


def find_maps(*folders: Path) -> dict[str, Path]:
    """Register maps by id in these folders; an earlier folder hides those of the same id in a later one."""
    found: dict[str, Path] = {}
    for folder in folders:
        for path in sorted(folder.iterdir()) if folder.is_dir() else ():
            if name_fault(path.name) is None and not _is_device(path):
                found.setdefault(path.stem, path)
    return found


def unused_files(folder: Path) -> tuple[UnusedFile, ...]:
    """Return the files in a folder and below it that are no register maps, but for hidden ones."""
    return tuple(sorted(_unused(folder), key=lambda file: file.name))


def _unused(folder: Path) -> Iterator[UnusedFile]:
    for path in islice(folder.rglob("*"), MOST_LOOKED_AT) if folder.is_dir() else ():
        inside = path.relative_to(folder)
        if path.is_dir() or any(part.startswith(".") for part in inside.parts):
            continue
        why = Reason.of("file_below") if len(inside.parts) > 1 else name_fault(path.name)
        if why is None and _is_device(path):
            why = Reason.of("file_device")
        if why is not None:
            yield UnusedFile(name=str(inside), why=why)


def _is_device(path: Path) -> bool:
    """Whether it is a pipe or a device, from which reading may never end. A folder or a link to nothing is told when it is opened."""
    return path.exists() and not path.is_file() and not path.is_dir()
