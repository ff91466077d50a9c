"""The schedule section of a map: regular layouts (count and stride) and irregular ones (addresses of their own)."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import cast

from ..register_map import (
    ArmedBy,
    Control,
    ControlKind,
    Poll,
    SchedulePoints,
    Value,
    WindowPoints,
    WritesAround,
    cure,
    mistake,
)
from .build_around import build_around
from .build_list import build_common_days, build_list, parts_of_day
from .build_points import Builder
from .build_shared import with_shared
from .build_windows import field_length, window
from .document import Path_
from .format import ARMED_BY, IRREGULAR, REGULAR
from .format_of_values import AT as AT_KEY
from .format_of_values import HOLDING as HOLDING_KEY
from .kinds import shown
from .sections import Section, checked
from .window_fields import are_apart, last_register, read_fields


def build_schedule(builder: Builder, section: Section, controls: Mapping[str, Control]) -> SchedulePoints | None:
    """Return the schedule, or None when anything in it is wrong; all of it is noted."""
    document = builder.document
    path: Path_ = ("schedule",)
    found = document.mistakes
    around = build_around(builder, path, section)
    armed_by = _armed_by(builder, section, controls, around)
    sides = {
        side: with_shared(builder, (*path, side), section[side], _side(builder, (*path, side), section[side]))
        for side in ("charge", "discharge")
        if side in section
    }
    points = build_list(builder, section)
    days = build_common_days(builder, section, [one for windows in sides.values() for one in windows])
    if days is not None:
        sides = {side: [replace(one, days=days) for one in windows] for side, windows in sides.items()}
    if not sides and "list_of_times" not in section:
        document.wrong(path, mistake("no_windows"), cure("windows"))
    if document.mistakes > found:
        return None
    return SchedulePoints(
        armed_by=armed_by,
        crosses_midnight=bool(section["crosses_midnight"]),
        step_minutes=cast("int", section["step_minutes"]),
        latest_end=str(section["latest_end"]),
        poll=Poll(str(section["poll"])),
        charge=parts_of_day(points) if points else tuple(sides.get("charge", ())),
        discharge=tuple(sides.get("discharge", ())),
        list_of_times=points,
        days=days,
        around=around,
    )


def _armed_by(
    builder: Builder, section: Section, controls: Mapping[str, Control], around: WritesAround
) -> ArmedBy | None:
    """Return what arms, which is one of the schedule's registers: what is written around a change of these is written around its own."""
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
            known = cure("one_of", options=", ".join(names)) if names else cure("add_control")
            right = cure("meant", near=near) if near else known
            document.wrong((*path, "control"), mistake("no_control", name=name), right)
        return None
    if control.kind is ControlKind.SWITCH:
        fits, right = isinstance(value, bool), cure("truth")
    elif control.kind is ControlKind.SELECT:
        labels = control.labels.values()
        fits, right = value in labels, cure("one_of", options=", ".join(labels))
    else:
        fits = isinstance(value, int | float) and not isinstance(value, bool)
        fits = fits and control.minimum <= cast("float", value) <= control.maximum
        right = cure("number_between", low=f"{control.minimum:g}", high=f"{control.maximum:g}")
        # With a power of ten from another register what it holds is not known here.
        if fits and control.point.scale_at is None:
            held = control.point.nearest(cast("float", value), control.minimum, control.maximum) or 0.0
            fits, right = held == value, cure("nearest", value=f"{held:g}")
    if not fits:
        document.wrong((*path, "value"), mistake("cannot_be", name=name, value=shown(value)), right)
        return None
    if control.around.commands and control.around != around:
        document.wrong((*path, "control"), mistake("arms_written_otherwise", name=name), cure("around_in_schedule"))
        return None
    return ArmedBy(control=replace(control, around=around), value=cast("Value", value))


def _side(builder: Builder, path: Path_, data: object) -> list[WindowPoints]:
    if isinstance(data, dict) and "windows" in data:
        return _irregular(builder, path, data)
    section = checked(builder.document, path, data, REGULAR)
    if section is None:
        return []
    here: Path_ = (*path, "fields")
    rows = read_fields(builder, here, section["fields"], "at", AT_KEY)
    if rows is None:
        return []
    stride, count = cast("int", section["stride"]), cast("int", section["count"])
    reach = max(last_register(name, row) for name, row in rows.items())
    first = builder.address((*path, "holding"), section["holding"], stride * (count - 1) + reach + 1)
    if first is None or not are_apart(builder, here, rows, stride if count > 1 else reach + 1):
        return []
    windows = []
    for index in range(count):
        start = first + index * stride
        firsts = {name: start + cast("int", row["at"]) for name, row in rows.items()}
        made = window(builder, here, rows, firsts, str(path[1]))
        if made is None:
            return []
        windows.append(made)
    return _whole(builder, path, windows) if section["written_whole"] else windows


def _irregular(builder: Builder, path: Path_, data: Mapping[object, object]) -> list[WindowPoints]:
    section = checked(builder.document, path, data, IRREGULAR)
    if section is None:
        return []
    items = cast("list[object]", section["windows"])
    if not items:
        builder.document.wrong((*path, "windows"), mistake("no_window_listed"), cure("each_start_and_end"))
    windows = []
    for index, item in enumerate(items):
        where: Path_ = (*path, "windows", index)
        rows = read_fields(builder, where, item, "holding", HOLDING_KEY)
        firsts = {
            name: builder.address((*where, name, "holding"), row["holding"], field_length(name, row))
            for name, row in (rows or {}).items()
        }
        whole = {name: first for name, first in firsts.items() if first is not None}
        if rows is None or len(whole) < len(rows):
            continue
        made = window(builder, where, rows, whole, str(path[1]))
        if made is not None:
            windows.append(made)
    return _whole(builder, path, windows) if section["written_whole"] else windows


def _whole(builder: Builder, path: Path_, windows: Sequence[WindowPoints]) -> list[WindowPoints]:
    """Return windows that are written whole. Nothing that the map does not know may go along with them."""
    whole = []
    for one in windows:
        own = {at for _, at in one.addresses}
        span = range(min(own), max(own) + 1)
        if gap := sorted(set(span) - own):
            reason = mistake("gap_in_window", register=gap[0] + builder.base)
            builder.document.wrong((*path, "written_whole"), reason, cure("field_for_each"))
            break
        if isinstance(builder.longest_write, int) and len(span) > builder.longest_write:
            reason = mistake("window_too_long", count=len(span), most=builder.longest_write)
            builder.document.wrong((*path, "written_whole"), reason, cure("longest_write"))
            break
        whole.append(replace(one, whole=span))
    return whole
