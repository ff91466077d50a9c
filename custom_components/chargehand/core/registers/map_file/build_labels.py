"""Labels and flags of a reading or control, and what can stand beside them."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import cast

from ..register_map import BINARY_CLASSES, NUMBERS, SENSOR_CLASSES, TEXT, KnownReading, Point, cure, mistake
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
        document.wrong((*path, "flags"), mistake("both", first="labels", second="flags"), cure("keep_one"))
    elif given:
        _check_number(document, path, section, point, given[0])
        if known is not None and given[0] != needed:
            right = cure("give", choice=needed) if needed else cure("leave_out_or_rename", key=given[0])
            document.wrong((*path, given[0]), mistake("not_read_as", name=path[-1], key=given[0]), right)
        _check_beside(document, path, section, known)
    elif needed:
        document.wrong(path, mistake("has_no", name=path[-1], key=needed), cure("first_text", key=needed))
    elif point.type == TEXT:
        if known is not None:
            document.wrong((*path, "type"), mistake("is_number", name=path[-1]), cure("number_type"))
        _check_beside(document, path, section, known)
    elif point.flag:
        _check_bit(document, path, section, known)
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
        document.wrong((*path, key), mistake("whole_only", key=key, type=point.type), cure("leave_one_out"))
        return
    for name, usual in (("scale", point.scale == 1), ("offset", point.offset == 0), ("scale_at", not point.scale_at)):
        if not usual:
            document.wrong((*path, name), mistake("raw_only", key=key), cure("leave_out_key", key=name))
            return
    if key == "flags":
        width = 16 * point.length if point.bits is None else point.bits[1] - point.bits[0] + 1
        lowest, highest = 0, width - 1
    else:
        lowest, highest = (int(end) for end in point.range())
    for number in numbers:
        if not lowest <= number <= highest:
            never = mistake("never_read", value=number)
            document.wrong((*path, key, str(number)), never, cure("range", low=lowest, high=highest))


def _check_beside(document: Document, path: Path_, section: Section, known: KnownReading | None) -> None:
    """Note what only numbers have. A known reading's unit and direction are checked against the catalogue."""
    for key in ("state_class",) if known is not None else ("unit", "state_class", "positive"):
        if key in section:
            document.wrong((*path, key), mistake("words_have_no", key=key), cure("leave_out"))


def _check_bit(document: Document, path: Path_, section: Section, known: KnownReading | None) -> None:
    """Note what a bit that is shown as on or off is not, and what it does not have."""
    if known is not None:
        right = cure("leave_out_or_rename", key="bit")
        document.wrong((*path, "bit"), mistake("is_number", name=path[-1]), right)
        return
    for key in ("unit", "state_class", "positive"):
        if key in section:
            document.wrong((*path, key), mistake("bit_has_no", key=key), cure("leave_out"))


def _check_class(document: Document, path: Path_, section: Section, *, binary: bool) -> None:
    classes = BINARY_CLASSES if binary else SENSOR_CLASSES
    given = section.get("device_class")
    if given is None or given in classes:
        return
    near = document.nearest(given, sorted(classes))
    right = cure("meant", near=near) if near else cure("leave_out_or_choice", options=", ".join(sorted(classes)))
    document.wrong((*path, "device_class"), mistake("no_device_class", value=given), right)
