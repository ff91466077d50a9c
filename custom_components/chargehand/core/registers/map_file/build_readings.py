"""Readings: values in their quantity's own unit and direction, of one point or of several."""

from dataclasses import replace
from decimal import Decimal
from typing import cast

from ..register_map import (
    KNOWN_READINGS,
    MULTIPLES,
    OPPOSITE,
    Directed,
    KnownReading,
    Point,
    Poll,
    Readable,
    Reading,
    Sum,
    cure,
    mistake,
)
from .build_composed import build_directed, build_sum
from .build_labels import texts_of
from .build_points import Builder
from .document import Path_
from .kinds import shown
from .sections import Section


def build_reading(builder: Builder, key: str, path: Path_, section: Section) -> Reading | None:
    """Return a reading, turned into its quantity's own unit and direction."""
    point = build_sum(builder, path, section) if "sum" in section else builder.point(path, section)
    known = KNOWN_READINGS.get(key)
    if known is None and "name" not in section:
        near = builder.document.nearest(key, KNOWN_READINGS)
        right = cure("meant_or_name", near=near) if near else cure("name")
        builder.document.wrong(path, mistake("no_known_reading", name=key), right)
        return None
    if point is None:
        return None
    own = known or KnownReading()
    texts = texts_of(builder.document, path, section, point.parts[0], known)
    unit, power = _unit(builder, path, section, known)
    positive = _shown_positive(section, known)
    sign: int | None = 1
    directed: Readable | None = point
    if "direction" in section:
        directed = build_directed(builder, path, section, point, positive)
    else:
        sign = _sign(builder, path, section, known)
        _check_told(builder, path, section, known)
    if texts is None or power is None or sign is None or directed is None:
        return None
    return Reading(
        key=key,
        point=_scaled(directed, Decimal(sign).scaleb(power)),
        poll=Poll(str(section.get("poll", Poll.FAST))),
        name=cast("str | None", section.get("name")),
        unit=unit,
        device_class=cast("str | None", section.get("device_class", own.device_class)),
        state_class=cast("str | None", section.get("state_class", own.state_class)),
        positive=positive,
        diagnostic=bool(section.get("diagnostic", own.diagnostic)),
        labels=texts.labels,
        flags=texts.flags,
    )


def _unit(builder: Builder, path: Path_, section: Section, known: KnownReading | None) -> tuple[str | None, int | None]:
    """Return the unit it is shown in, and the power of ten that leads there; None and a problem when there is no way."""
    unit = cast("str | None", section.get("unit"))
    if known is None:
        return unit, 0
    if unit is None:
        return known.unit, 0
    multiples = MULTIPLES.get(known.unit or "", {known.unit: 0} if known.unit else {})
    if unit not in multiples:
        right = cure("give", choice=", ".join(multiples)) if multiples else cure("leave_out")
        builder.document.wrong((*path, "unit"), mistake("no_unit", value=shown(unit)), right)
        return known.unit, None
    return known.unit, multiples[unit]


def _sign(builder: Builder, path: Path_, section: Section, known: KnownReading | None) -> int | None:
    """1 or −1: shown, positive is discharging and importing. A reading of the map's own follows the same rule."""
    positive = cast("str | None", section.get("positive"))
    if positive is None:
        return 1
    shown_as = _shown_positive(section, known)
    if shown_as is None:
        builder.document.wrong((*path, "positive"), mistake("no_direction"), cure("leave_out"))
        return None
    if positive not in (shown_as, OPPOSITE[shown_as]):
        right = cure("give", choice=f"{shown_as}, {OPPOSITE[shown_as]}")
        builder.document.wrong((*path, "positive"), mistake("other_direction", value=positive), right)
        return None
    return 1 if positive == shown_as else -1


def _shown_positive(section: Section, known: KnownReading | None) -> str | None:
    """Return what a positive number means as it is shown: the catalogue's, else the same rule for a reading of the map's own."""
    if known is not None:
        return known.positive
    direction = section.get("direction")
    named = [section.get("positive"), *(direction if isinstance(direction, dict) else ())]
    for shown_as in ("discharging", "importing"):
        if shown_as in named or OPPOSITE[shown_as] in named:
            return shown_as
    # A direction of the map's own that names none of them has a mistake of its own.
    return "discharging" if direction is not None else None


def _check_told(builder: Builder, path: Path_, section: Section, known: KnownReading | None) -> None:
    """Note a power of which nothing says which way it counts: with the wrong sign a plan would be the wrong way round."""
    if known is not None and known.device_class == "power" and known.positive and "positive" not in section:
        right = cure("positive", choice=f"{known.positive}, {OPPOSITE[known.positive]}")
        builder.document.doubtful(path, mistake("sign_not_told"), right)


def _scaled(point: Readable, factor: Decimal) -> Readable:
    if factor == 1:
        return point
    if isinstance(point, Directed):
        return replace(point, amount=_multiplied(point.amount, factor))
    return _multiplied(point, factor)


def _multiplied(point: Point | Sum, factor: Decimal) -> Point | Sum:
    if isinstance(point, Sum):
        return Sum(parts=tuple(_of_one(part, factor) for part in point.parts))
    return _of_one(point, factor)


def _of_one(point: Point, factor: Decimal) -> Point:
    return replace(point, scale=point.scale * factor, offset=point.offset * factor)
