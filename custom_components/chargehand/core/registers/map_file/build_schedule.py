"""The schedule section of a map: regular layouts (count and stride) and irregular ones (addresses of their own)."""

from collections.abc import Mapping
from itertools import combinations
from typing import cast

from ..register_map import ArmedBy, Control, ControlKind, Poll, SchedulePoints, Value, WindowPoints
from .build_points import Builder
from .build_windows import field_length, window
from .document import Path_
from .format import ARMED_BY, FIELDS, IRREGULAR, REGULAR, Key
from .format import AT as AT_KEY
from .format import HOLDING as HOLDING_KEY
from .kinds import shown
from .sections import Section, checked


def build_schedule(builder: Builder, section: Section, controls: Mapping[str, Control]) -> SchedulePoints | None:
    """Return the schedule, or None when anything in it is wrong; all of it is noted."""
    document = builder.document
    path: Path_ = ("schedule",)
    found = document.mistakes
    armed_by = _armed_by(builder, section, controls)
    sides = {side: _side(builder, (*path, side), section[side]) for side in ("charge", "discharge") if side in section}
    if not sides:
        document.wrong(path, "it has no windows", "give charge or discharge, or leave the schedule out")
    if document.mistakes > found:
        return None
    return SchedulePoints(
        armed_by=armed_by,
        crosses_midnight=bool(section["crosses_midnight"]),
        step_minutes=cast("int", section["step_minutes"]),
        latest_end=str(section["latest_end"]),
        poll=Poll(str(section["poll"])),
        charge=tuple(sides.get("charge", ())),
        discharge=tuple(sides.get("discharge", ())),
    )


def _armed_by(builder: Builder, section: Section, controls: Mapping[str, Control]) -> ArmedBy | None:
    if "armed_by" not in section:
        return None
    document = builder.document
    path: Path_ = ("schedule", "armed_by")
    armed = checked(document, path, section["armed_by"], ARMED_BY)
    if armed is None:
        return None
    name, value = str(armed["control"]), armed["value"]
    control = controls.get(name)
    if control is None:
        written = document.data.get("controls")
        names = [str(key) for key in written] if isinstance(written, dict) else []
        # A control that is there but wrong has its own message.
        if name not in names:
            near = document.nearest(name, names)
            known = f"give one of {', '.join(names)}" if names else "add it to controls"
            document.wrong(
                (*path, "control"), f"there is no control {name}", f"did you mean {near}?" if near else known
            )
        return None
    if control.kind is ControlKind.SWITCH:
        fits, cure = isinstance(value, bool), "give true or false"
    elif control.kind is ControlKind.SELECT:
        fits, cure = value in control.labels.values(), f"give one of {', '.join(control.labels.values())}"
    else:
        fits = isinstance(value, int | float) and not isinstance(value, bool)
        fits = fits and control.minimum <= cast("float", value) <= control.maximum
        cure = f"give a number from {control.minimum:g} to {control.maximum:g}"
        # With a power of ten from another register what it holds is not known here.
        if fits and control.point.scale_at is None:
            held = control.point.nearest(cast("float", value), control.minimum, control.maximum) or 0.0
            fits, cure = held == value, f"the nearest that its register holds is {held:g}"
    if not fits:
        document.wrong((*path, "value"), f"{name} cannot be {shown(value)}", cure)
        return None
    return ArmedBy(control=control, value=cast("Value", value))


def _side(builder: Builder, path: Path_, data: object) -> list[WindowPoints]:
    if isinstance(data, dict) and "windows" in data:
        return _irregular(builder, path, data)
    section = checked(builder.document, path, data, REGULAR)
    if section is None:
        return []
    here: Path_ = (*path, "fields")
    rows = _fields(builder, here, section["fields"], "at", AT_KEY)
    if rows is None:
        return []
    stride, count = cast("int", section["stride"]), cast("int", section["count"])
    reach = max(_last(name, row) for name, row in rows.items())
    first = builder.address((*path, "holding"), section["holding"], stride * (count - 1) + reach + 1)
    if first is None or not _apart(builder, here, rows, stride if count > 1 else reach + 1):
        return []
    windows = []
    for index in range(count):
        start = first + index * stride
        made = window(builder, here, rows, {name: start + cast("int", row["at"]) for name, row in rows.items()})
        if made is None:
            return []
        windows.append(made)
    return windows


def _irregular(builder: Builder, path: Path_, data: Mapping[object, object]) -> list[WindowPoints]:
    section = checked(builder.document, path, data, IRREGULAR)
    if section is None:
        return []
    items = cast("list[object]", section["windows"])
    if not items:
        builder.document.wrong((*path, "windows"), "there is no window in the list", "give each with start and end")
    windows = []
    for index, item in enumerate(items):
        where: Path_ = (*path, "windows", index)
        rows = _fields(builder, where, item, "holding", HOLDING_KEY)
        firsts = {
            name: builder.address((*where, name, "holding"), row["holding"], field_length(name, row))
            for name, row in (rows or {}).items()
        }
        whole = {name: first for name, first in firsts.items() if first is not None}
        if rows is None or len(whole) < len(rows):
            continue
        made = window(builder, where, rows, whole)
        if made is not None:
            windows.append(made)
    return windows


def _fields(builder: Builder, path: Path_, data: object, place: str, row: Key) -> dict[str, Section] | None:
    """Return the fields of a window, each checked against its table."""
    document = builder.document
    if not isinstance(data, dict):
        document.wrong(path, f"{shown(data)} is not a set of fields", "give start and end at least")
        return None
    rows: dict[str, Section] = {}
    found = document.mistakes
    place_key = Key(row.kind, row.meaning, required=True)
    meant: set[str | None] = set()
    for name, value in data.items():
        if name not in FIELDS:
            near = document.nearest(name, FIELDS)
            meant.add(near)
            cure = f"did you mean {near}?" if near else f"known are {', '.join(FIELDS)}"
            document.wrong((*path, str(name)), "a window has no such field", cure)
            continue
        section = checked(document, (*path, name), value, {place: place_key, **FIELDS[name]})
        if section is not None:
            rows[name] = section
    for name in ("start", "end"):
        if name not in data and name not in meant:
            document.wrong(path, f"a window has no {name}", f"give {name}: {{{place}: N, layout: hour_minute}}")
    return rows if document.mistakes == found else None


def _last(name: str, row: Section) -> int:
    """Return the last register of a field, counted from the window's first."""
    return cast("int", row["at"]) + field_length(name, row) - 1


def _apart(builder: Builder, path: Path_, rows: Mapping[str, Section], stride: int) -> bool:
    """Whether all fields lie within the stride and none upon another."""
    found = builder.document.mistakes
    for name, row in rows.items():
        if _last(name, row) >= stride:
            highest = stride - field_length(name, row)
            cure = f"give at most {highest}, or a larger stride" if highest >= 0 else "give a larger stride"
            builder.document.wrong(
                (*path, name, "at"), f"it reaches register {_last(name, row)} of a window of {stride}", cure
            )
    if builder.document.mistakes > found:
        return False
    for (name, row), (other, other_row) in combinations(rows.items(), 2):
        if cast("int", row["at"]) <= _last(other, other_row) and cast("int", other_row["at"]) <= _last(name, row):
            builder.document.wrong(
                (*path, other, "at"), f"it lies on {name}", "look the place or the layout of both up again"
            )
            return False
    return True
