"""The fields of a window, or of a point of a list of times, each checked against its table."""

from collections.abc import Mapping
from dataclasses import replace
from itertools import combinations
from typing import cast

from ..register_map import cure, mistake
from .build_points import Builder
from .build_windows import field_length
from .document import Path_
from .format import FIELDS
from .format_key import Key
from .format_slots import MODES
from .kinds import shown
from .sections import Section, checked

WINDOW_NEEDS = dict.fromkeys(("start", "end"), "{PLACE: N, layout: hour_minute}")
"""The fields that every window has, each with an example."""

MODES_OR_LABELS = frozenset({*MODES, "labels"})
"""Keys by which a register of several values is told from one that only says yes or no."""


def read_fields(
    builder: Builder,
    path: Path_,
    data: object,
    place: str,
    row: Key,
    *,
    known: Mapping[str, Mapping[str, Key]] = FIELDS,
    needed: Mapping[str, str] = WINDOW_NEEDS,
) -> dict[str, Section] | None:
    """Return the fields of a window, or of another table of `known` ones, each checked against its table."""
    document = builder.document
    if not isinstance(data, dict):
        document.wrong(path, mistake("no_fields", value=shown(data)), cure("start_and_end"))
        return None
    rows: dict[str, Section] = {}
    found = document.mistakes
    place_key = replace(row, required=True)
    meant: set[str | None] = set()
    for name, value in data.items():
        if name not in known:
            near = document.nearest(name, known)
            meant.add(near)
            right = cure("meant", near=near) if near else cure("known_fields", fields=", ".join(known))
            document.wrong((*path, str(name)), mistake("no_such_field"), right)
            continue
        if name == "active" and isinstance(value, dict) and not MODES_OR_LABELS.isdisjoint(value):
            document.wrong((*path, name), mistake("active_is_mode"), cure("use_mode"))
            continue
        section = checked(document, (*path, name), value, {place: place_key, **known[name]})
        if section is not None:
            rows[name] = section
    if {"end", "duration"} <= data.keys():
        document.wrong((*path, "duration"), mistake("both", first="end", second="duration"), cure("keep_one"))
    if {"active", "mode"} <= data.keys():
        document.wrong((*path, "mode"), mistake("both", first="active", second="mode"), cure("keep_one"))
    for name, example in needed.items():
        named = {name, "duration"} if name == "end" else {name}
        if named.isdisjoint({*data, *meant}):
            written = example.replace("PLACE", place)
            right = cure("end", example=written) if name == "end" else cure("field", key=name, example=written)
            document.wrong(path, mistake("window_has_no", key=name), right)
    return rows if document.mistakes == found else None


def last_register(name: str, row: Section) -> int:
    """Return the last register of a field, counted from the window's first."""
    return cast("int", row["at"]) + field_length(name, row) - 1


def are_apart(builder: Builder, path: Path_, rows: Mapping[str, Section], stride: int) -> bool:
    """Whether all fields lie within the stride and none upon another."""
    found = builder.document.mistakes
    for name, row in rows.items():
        if last_register(name, row) >= stride:
            highest = stride - field_length(name, row)
            reason = mistake("beyond_window", last=last_register(name, row), length=stride)
            right = cure("earlier_or_stride", most=highest) if highest >= 0 else cure("larger_stride")
            builder.document.wrong((*path, name, "at"), reason, right)
    if builder.document.mistakes > found:
        return False
    for (name, row), (other, other_row) in combinations(rows.items(), 2):
        if cast("int", row["at"]) <= last_register(other, other_row) and cast("int", other_row["at"]) <= last_register(
            name, row
        ):
            builder.document.wrong((*path, other, "at"), mistake("lies_on", key=name), cure("look_up_both"))
            return False
    return True
