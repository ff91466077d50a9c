"""Readings of more than one point: sums, and amounts whose direction another register tells."""

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import cast

from ..register_map import OPPOSITE, TEXT, Directed, Point, Sum, cure, mistake
from .build_points import Builder
from .document import Path_
from .format_of_values import DIRECTION, PLACE_KEYS, POINT_KEYS, SUMMAND
from .sections import Section, checked

OF_ONE_POINT = (*PLACE_KEYS, *POINT_KEYS)
"""What belongs to each point of a sum, and not beside it."""

PLAIN: Section = {"type": "u16", "scale": 1, "offset": 0}
"""How a register is kept that tells a direction."""


def build_sum(builder: Builder, path: Path_, section: Section) -> Sum | None:
    """Return a sum; None when anything in it is wrong, all of it noted."""
    document = builder.document
    found = document.mistakes
    for key in OF_ONE_POINT:
        if (*path, key) in document.lines:
            document.wrong((*path, key), mistake("beside_sum", key=key), cure("into_sum"))
    for key in ("labels", "flags"):
        if key in section:
            document.wrong((*path, key), mistake("both", first="sum", second=key), cure("keep_one"))
    items = cast("list[object]", section["sum"])
    if len(items) < 2:
        document.wrong((*path, "sum"), mistake("no_sum"), cure("two_points"))
    parts = [_part(builder, (*path, "sum", index), item) for index, item in enumerate(items)]
    if document.mistakes > found:
        return None
    return Sum(parts=tuple(part for part in parts if part is not None))


def _part(builder: Builder, path: Path_, item: object) -> Point | None:
    section = checked(builder.document, path, item, SUMMAND)
    return None if section is None else builder.point(path, section)


def build_directed(
    builder: Builder, path: Path_, section: Section, amount: Point | Sum, shown_positive: str | None
) -> Directed | None:
    """Return an amount with the register that tells its direction; `shown_positive` is what a positive value will mean.

    None when anything in it is wrong, all of it noted.
    """
    document = builder.document
    here: Path_ = (*path, "direction")
    found = document.mistakes
    for key in ("positive", "labels", "flags"):
        if key in section:
            document.wrong((*path, key), mistake("both", first="direction", second=key), cure("keep_one"))
    if any(part.flag or part.type == TEXT for part in amount.parts):
        document.wrong(here, mistake("only_number_has", key="direction"), cure("leave_out"))
    if shown_positive is None:
        document.wrong(here, mistake("no_direction"), cure("leave_out"))
        return None
    given = checked(document, here, section["direction"], DIRECTION)
    if given is None:
        return None
    register = builder.point(
        here, {**PLAIN, **{key: given[key] for key in ("input", "holding", "bit", "bits") if key in given}}
    )
    signs = _signs(builder, here, given, shown_positive)
    if register is None or document.mistakes > found:
        return None
    lowest, highest = (int(end) for end in register.range())
    for value in signs:
        if not lowest <= value <= highest:
            document.wrong(here, mistake("never_read", value=value), cure("range", low=lowest, high=highest))
    if any(_same_bits(register, part) for part in amount.parts):
        document.wrong(here, mistake("scale_at_itself"), cure("look_up_place"))
    directed = Directed(amount=amount, direction=replace(register, flag=False), signs=signs)
    if document.mistakes == found:
        builder.check_read(here, directed.groups[0])
    return None if document.mistakes > found else directed


def _signs(builder: Builder, path: Path_, given: Section, shown_positive: str) -> Mapping[int, int]:
    """Return 1, -1 or 0 by raw value; what is wrong with these is noted."""
    document = builder.document
    pair = (shown_positive, OPPOSITE[shown_positive])
    signs: dict[int, int] = {}
    for key, sign in ((pair[0], 1), (pair[1], -1), ("neither", 0)):
        if key not in given:
            if sign:
                document.wrong(path, mistake("has_no", name="direction", key=key), cure("raw_for", key=key))
            continue
        for value in cast("tuple[int, ...]", given[key]):
            if value in signs:
                document.wrong((*path, key), mistake("raw_twice", value=value), cure("keep_one"))
            signs[value] = sign
    for key in OPPOSITE:
        if key in given and key not in pair:
            right = cure("give", choice=", ".join(pair))
            document.wrong((*path, key), mistake("other_direction", value=key), right)
    return MappingProxyType(signs)


def _same_bits(point: Point, other: Point) -> bool:
    """Whether two points take the same bits of a register."""
    if not set(point.addresses) & set(other.addresses):
        return False
    if point.bits is None or other.bits is None:
        return True
    return point.bits[0] <= other.bits[1] and other.bits[0] <= point.bits[1]
