"""A list of times instead of windows, and the days that all windows have in common."""

from collections.abc import Iterable, Mapping, Sequence
from typing import cast

from ..register_map import ListPoint, Weekdays, WindowPoints, cure, mistake
from .build_points import Builder
from .build_slots import build_days
from .build_windows import field_length, list_point
from .document import Path_
from .format import DAYS_OF_ALL, LIST, LIST_FIELDS
from .format_of_values import HOLDING as HOLDING_KEY
from .sections import Section, checked
from .window_fields import read_fields


def build_common_days(builder: Builder, section: Section, windows: Iterable[WindowPoints]) -> Weekdays | None:
    """Return the days that all windows have in common."""
    path: Path_ = ("schedule", "days")
    row = checked(builder.document, path, section["days"], DAYS_OF_ALL) if "days" in section else None
    first = None if row is None else builder.address((*path, "holding"), row["holding"])
    if row is None or first is None:
        return None
    if any(one.days is not None for one in windows):
        builder.document.wrong(path, mistake("days_twice"), cure("keep_one"))
    return build_days(builder, path, row, first)


def build_list(builder: Builder, section: Section) -> tuple[ListPoint, ...]:
    """Return the points of a list of times; none where the schedule has no list, or a wrong one."""
    document, path = builder.document, ("schedule", "list_of_times")
    if "list_of_times" not in section:
        return ()
    if beside := next((side for side in ("charge", "discharge") if side in section), None):
        document.wrong(path, mistake("both", first=beside, second="list_of_times"), cure("keep_one"))
    if not section["crosses_midnight"]:
        reason = mistake("both", first="crosses_midnight", second="list_of_times")
        document.wrong(("schedule", "crosses_midnight"), reason, cure("leave_out"))
    listed = checked(document, path, section["list_of_times"], LIST)
    here: Path_ = (*path, "fields")
    needed = {"start": "{holding: N, layout: hhmm}", "charging": "{holding: N, bit: 0}"}
    if listed is None:
        return ()
    rows = read_fields(builder, here, listed["fields"], "holding", HOLDING_KEY, known=LIST_FIELDS, needed=needed)
    if rows is None or not _are_apart(builder, here, rows, listed):
        return ()
    points = []
    for index in range(cast("int", listed["count"])):
        firsts: dict[str, int] = {}
        for name, row in rows.items():
            length = field_length(name, row)
            number = cast("int", row["holding"]) + index * cast("int", listed.get("stride", length))
            first = builder.address((*here, name, "holding"), number, length)
            if first is None:
                return ()
            firsts[name] = first
        point = list_point(builder, here, rows, firsts)
        if point is None:
            return ()
        points.append(point)
    return tuple(points)


def _are_apart(builder: Builder, path: Path_, rows: Mapping[str, Section], listed: Section) -> bool:
    """Whether each field of a point ends before the same one of the next begins."""
    found = builder.document.mistakes
    for name, row in rows.items():
        length, stride = field_length(name, row), cast("int | None", listed.get("stride"))
        if stride is not None and length > stride:
            reason = mistake("beyond_point", last=length - 1, length=stride)
            builder.document.wrong((*path, name), reason, cure("larger_stride"))
    return builder.document.mistakes == found


def parts_of_day(points: Sequence[ListPoint]) -> tuple[WindowPoints, ...]:
    """Return the parts of a day as windows: each from its own point to the next."""
    return tuple(
        WindowPoints(
            start=point.start,
            end=points[(index + 1) % len(points)].start,
            current=point.current,
            power=point.power,
            stop_level=point.stop_level,
        )
        for index, point in enumerate(points)
    )
