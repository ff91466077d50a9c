"""Labels and flags of a reading or control, and what can stand beside them."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import cast

from ..register_map import BINARY_CLASSES, NUMBERS, SENSOR_CLASSES, TEXT, KnownReading, Point
from .document import Document, Path_
from .sections import Section

NEEDED = MappingProxyType({"enum": "labels", "problem": "flags"})
"""Known readings that are words need these: a number would mean nothing under their name."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Texts:
    """Texts by raw value, and by bit."""

    labels: Mapping[int, str] = field(default_factory=dict)
    flags: Mapping[int, str] = field(default_factory=dict)


def texts_of(
    document: Document, path: Path_, section: Section, point: Point, known: KnownReading | None
) -> Texts | None:
    """Return the texts, checked; None when anything about them is wrong, all of it noted."""
    found = document.mistakes
    given = [key for key in ("labels", "flags") if key in section]
    needed = NEEDED.get(known.device_class or "") if known is not None else None
    if len(given) == 2:
        document.wrong((*path, "flags"), "both labels and flags stand here", "keep one of them")
    elif given:
        _check_number(document, path, section, point, given[0])
        if known is not None and given[0] != needed:
            cure = f"give {needed}" if needed else f"leave {given[0]} out, or choose another name"
            document.wrong((*path, given[0]), f"{path[-1]} is not read as {given[0]}", cure)
        _check_beside(document, path, section, known)
    elif needed:
        document.wrong(path, f"{path[-1]} has no {needed}", f"give {needed}: {{0: what the first one means}}")
    elif point.type == TEXT:
        if known is not None:
            document.wrong((*path, "type"), f"{path[-1]} is a number", "give a number type, or choose another name")
        _check_beside(document, path, section, known)
    _check_class(document, path, section, binary="flags" in given or (point.flag and not given))
    if document.mistakes > found:
        return None
    return Texts(labels=_mapping(section, "labels"), flags=_mapping(section, "flags"))


def _mapping(section: Section, key: str) -> Mapping[int, str]:
    return MappingProxyType(cast("dict[int, str]", section.get(key, {})))


def _check_number(document: Document, path: Path_, section: Section, point: Point, key: str) -> None:
    """Note texts for what is no plain whole number, or for numbers that it can never be."""
    numbers = cast("Mapping[int, str]", section[key])
    if point.type == TEXT or NUMBERS[point.type].is_float:
        document.wrong((*path, key), f"{key} go with whole numbers, not with {point.type}", "leave one of them out")
        return
    for name, usual in (("scale", point.scale == 1), ("offset", point.offset == 0), ("scale_at", not point.scale_at)):
        if not usual:
            document.wrong((*path, name), f"{key} go with the raw number", f"leave out {name}")
            return
    if key == "flags":
        width = 16 * point.length if point.bits is None else point.bits[1] - point.bits[0] + 1
        lowest, highest = 0, width - 1
    else:
        lowest, highest = (int(end) for end in point.range())
    for number in numbers:
        if not lowest <= number <= highest:
            document.wrong((*path, key, str(number)), f"{number} can never be read here", f"give {lowest} to {highest}")


def _check_beside(document: Document, path: Path_, section: Section, known: KnownReading | None) -> None:
    """Note what only numbers have. A known reading's unit and direction are checked against the catalogue."""
    for key in ("state_class",) if known is not None else ("unit", "state_class", "positive"):
        if key in section:
            document.wrong((*path, key), f"a reading in words has no {key}", "leave it out")


def _check_class(document: Document, path: Path_, section: Section, *, binary: bool) -> None:
    classes = BINARY_CLASSES if binary else SENSOR_CLASSES
    given = section.get("device_class")
    if given is None or given in classes:
        return
    near = document.nearest(given, sorted(classes))
    cure = f"did you mean {near}?" if near else f"leave it out, or give one of: {', '.join(sorted(classes))}"
    document.wrong((*path, "device_class"), f"Home Assistant has no device class {given} for this", cure)
