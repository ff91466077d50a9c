"""What a place of the schedule is used for, on which days, and lists of times, made from their checked sections."""

from typing import cast

from ..register_map import EVERY_DAY, Mode, Point, Table, Weekdays, cure, mistake
from .build_points import Builder
from .document import Path_
from .format_slots import DAY_NAMES, MODES
from .sections import Section


def build_mode(builder: Builder, path: Path_, row: Section, first: int, side: str) -> Mode | None:
    """Return the mode of a place that windows of `side` are kept in; None and a problem where it has none for these."""
    document = builder.document
    if side not in row:
        document.wrong((*path, side), mistake("missing"), cure("field", key=side, example="N"))
        return None
    bits = cast("tuple[int, int] | None", row.get("bits"))
    highest = 0xFFFF if bits is None else (1 << (bits[1] - bits[0] + 1)) - 1
    names: dict[int, str] = {}
    found = document.mistakes
    for name in MODES:
        value = cast("int | None", row.get(name))
        if value is None:
            continue
        if value > highest:
            document.wrong((*path, name), mistake("not_fitting", value=value), cure("holds", low=0, high=highest))
        elif value in names:
            document.wrong((*path, name), mistake("same_mode", key=names[value], value=value), cure("own_values"))
        names[value] = name
    if document.mistakes > found:
        return None
    point = Point(table=Table.HOLDING, first=first, bits=bits)
    return Mode(point=point, own=cast("int", row[side]), none=cast("int", row["none"]), names=names)


def build_days(builder: Builder, path: Path_, row: Section, first: int) -> Weekdays | None:
    """Return where days of the week are kept; None and a problem where they are not seven."""
    low, high = cast("tuple[int, int]", row["bits"])
    if high - low + 1 != len(EVERY_DAY):
        right = cure("bits_of_days", low=low, high=low + len(EVERY_DAY) - 1)
        builder.document.wrong((*path, "bits"), mistake("no_seven_bits", count=high - low + 1), right)
        return None
    point = Point(table=Table.HOLDING, first=first, bits=(low, high))
    return Weekdays(point=point, first=DAY_NAMES.index(str(row["first"])))
