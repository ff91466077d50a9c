"""Limits of windows made from their checked fields: in A, W or %, or a power given in % of another one."""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from decimal import Decimal

from ..register_map import MULTIPLES, NUMBERS, TEXT, Identity, Limit, Point, Reading, Table, cure, mistake
from .build_points import Builder
from .build_values import check_max, limits
from .document import Path_
from .format import LIMIT_UNITS
from .kinds import shown
from .sections import Section

WATTS = MULTIPLES["W"]


def limit_point(builder: Builder, path: Path_, name: str, row: Section, first: int) -> Limit | None:
    """Return a limit in its own unit: A, W or %."""
    own = LIMIT_UNITS[name]
    units = {"%": 0} if "percent_of" in row else MULTIPLES.get(own, {own: 0})
    unit = str(row.get("unit", next(iter(units)) if "percent_of" in row else own))
    if unit not in units:
        reason = mistake("no_unit_of", value=shown(unit), name=name)
        builder.document.wrong((*path, "unit"), reason, cure("give", choice=", ".join(units)))
        return None
    factor = Decimal(1).scaleb(units[unit])
    whole: Point | None = None
    match row.get("percent_of"):
        case str(key):
            whole = _whole(builder, (*path, "percent_of"), key)
            if whole is None:
                return None
        case None:
            pass
        case watts:
            factor = Decimal(str(watts)) / 100
    point = _point(builder, row, first, factor)
    given: dict[str, object] = {key: float(Decimal(str(row[key])) * factor) for key in ("min", "max") if key in row}
    check_max(builder, path, row)
    ends = limits(builder, path, given, point)
    if ends is None:
        return None
    if whole is None:
        return Limit(point=point, unit=own, minimum=ends[0], maximum=ends[1])
    return Limit(point=_point(builder, row, first, factor, whole), unit=own, minimum=0, maximum=0, per_cent=ends)


def _point(builder: Builder, row: Section, first: int, factor: Decimal, whole: Point | None = None) -> Point:
    kind = str(row["type"])
    return Point(
        table=Table.HOLDING,
        first=first,
        type=kind,
        length=NUMBERS[kind].registers,
        low_first=builder.low_first,
        scale=Decimal(str(row["scale"])) * factor,
        offset=Decimal(str(row["offset"])) * factor,
        percent_of=whole,
    )


def _whole(builder: Builder, path: Path_, key: str) -> Point | None:
    """Return the power, in W, that a limit is given in % of; None where the map has no such value."""
    document = builder.document
    if key in builder.powers:
        point = builder.powers[key]
        if point is None:
            document.wrong(path, mistake("no_power", name=key), cure("power_in_watts"))
        return point
    written = [names for part in ("readings", "identity") if isinstance(names := document.data.get(part), Mapping)]
    names = [str(name) for part in written for name in part]
    # One that is there but wrong has its own message.
    if key not in names:
        near = document.nearest(key, names)
        right = cure("meant", near=near) if near else cure("power_or_name")
        document.wrong(path, mistake("no_value_of_name", name=key), right)
    return None


def powers_of(readings: Iterable[Reading], identity: Iterable[Identity]) -> dict[str, Point | None]:
    """Return the values by name that a limit can be given in % of, in W; None for those that are no power."""
    found: dict[str, Point | None] = {one.key: one.point if _is_number(one.point) else None for one in identity}
    for reading in readings:
        point, power = reading.point, WATTS.get(reading.unit or "")
        found[reading.key] = None
        if isinstance(point, Point) and _is_number(point) and power is not None:
            found[reading.key] = _in_watts(point, power)
    return found


def _is_number(point: Point) -> bool:
    return point.type != TEXT and not point.flag


def _in_watts(point: Point, power: int) -> Point:
    return replace(point, scale=point.scale.scaleb(power), offset=point.offset.scaleb(power))
