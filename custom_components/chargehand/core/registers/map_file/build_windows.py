"""One window of a schedule made from its checked fields."""

from collections.abc import Mapping
from typing import cast

from ..register_map import (
    NUMBERS,
    TIME_LAYOUTS,
    ListPoint,
    Mode,
    Point,
    Table,
    TimePoint,
    WindowPoints,
    cure,
    mistake,
)
from .build_limits import limit_point
from .build_points import Builder
from .build_slots import build_days, build_mode
from .document import Path_
from .format import LIMIT_UNITS
from .sections import Section


def field_length(name: str, row: Section) -> int:
    """Return registers that a window's field takes."""
    if name in ("start", "end", "duration"):
        return TIME_LAYOUTS[str(row["layout"])].registers
    return NUMBERS[str(row.get("type", "u16"))].registers


def window(
    builder: Builder, path: Path_, rows: Mapping[str, Section], firsts: Mapping[str, int], side: str
) -> WindowPoints | None:
    """Return a window of `side` whose fields begin at these registers; None when one of them is wrong, all of it noted."""
    found = builder.document.mistakes
    for name, row in rows.items():
        builder.check_length((*path, name), field_length(name, row))
    made = {
        name: limit_point(builder, (*path, name), name, rows[name], firsts[name])
        for name in LIMIT_UNITS
        if name in rows
    }
    last = "duration" if "duration" in rows else "end"
    start, end = (_time(builder, (*path, name), rows[name], firsts[name]) for name in ("start", last))
    active: Point | Mode | None = None
    if "active" in rows:
        active = build_active(builder, (*path, "active"), rows["active"], firsts["active"])
    if "mode" in rows:
        active = build_mode(builder, (*path, "mode"), rows["mode"], firsts["mode"], side)
    days = build_days(builder, (*path, "days"), rows["days"], firsts["days"]) if "days" in rows else None
    if builder.document.mistakes > found:
        return None
    return WindowPoints(
        start=start,
        end=end,
        by_duration="duration" in rows,
        current=made.get("current"),
        power=made.get("power"),
        stop_level=made.get("stop_level"),
        active=active,
        days=days,
    )


def build_active(builder: Builder, path: Path_, row: Section, first: int) -> Point:
    """Return a bit or a register that says yes or no."""
    bit = cast("int | None", row.get("bit"))
    on_off = builder.on_off(path, row, "u16")
    return Point(table=Table.HOLDING, first=first, bits=None if bit is None else (bit, bit), flag=True, on_off=on_off)


def _time(builder: Builder, path: Path_, row: Section, first: int) -> TimePoint:
    """Return where a time is kept; what marks it as unused must be no time, which it would hide."""
    point = TimePoint(
        table=Table.HOLDING,
        first=first,
        layout=str(row["layout"]),
        unused=cast("tuple[int, ...]", row.get("unused", ())),
    )
    for value in point.unused:
        minute = point.decode(dict.fromkeys(point.addresses, value))
        if minute is not None:
            time = f"{minute // 60:02d}:{minute % 60:02d}"
            builder.document.wrong(
                (*path, "unused"), mistake("unused_is_time", value=value, time=time), cure("no_time")
            )
    return point


def list_point(
    builder: Builder, path: Path_, rows: Mapping[str, Section], firsts: Mapping[str, int]
) -> ListPoint | None:
    """Return one point of a list of times; None when a field is wrong, all of it noted."""
    found = builder.document.mistakes
    for name, row in rows.items():
        builder.check_length((*path, name), field_length(name, row))
    charging = build_active(builder, (*path, "charging"), rows["charging"], firsts["charging"])
    made = {
        name: limit_point(builder, (*path, name), name, rows[name], firsts[name])
        for name in LIMIT_UNITS
        if name in rows
    }
    if builder.document.mistakes > found:
        return None
    return ListPoint(
        start=TimePoint(table=Table.HOLDING, first=firsts["start"], layout=str(rows["start"]["layout"])),
        charging=charging,
        current=made.get("current"),
        power=made.get("power"),
        stop_level=made.get("stop_level"),
    )
