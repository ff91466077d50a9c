"""What a map is made of besides its readings and its schedule: identity, controls and the clock."""

from collections.abc import Mapping
from decimal import ROUND_CEILING, Decimal
from typing import cast

from ..register_map import (
    CLOCK_LAYOUTS,
    NUMBERS,
    TEXT,
    WEEKDAYS,
    Clock,
    ClockPoint,
    Control,
    ControlKind,
    Identity,
    Keeps,
    Point,
    Poll,
    Value,
    cure,
    mistake,
)
from .build_around import build_around
from .build_labels import texts_of
from .build_points import Builder
from .document import Path_
from .kinds import shown
from .sections import Section


def build_identity(builder: Builder, key: str, path: Path_, section: Section) -> Identity | None:
    """Return a value that proves which inverter this is."""
    point = builder.point(path, section)
    if point is None:
        return None
    expect = cast("tuple[Value, ...]", section.get("expect", ()))
    for value in expect:
        if not _can_be(point, value):
            builder.document.wrong((*path, "expect"), mistake("never_read", value=shown(value)), cure("scaled"))
            return None
    return Identity(key=key, point=point, expect=expect)


def _can_be(point: Point, value: Value) -> bool:
    if isinstance(value, str) is not (point.type == TEXT) or isinstance(value, bool) is not point.flag:
        return False
    try:
        return point.scale_at is not None or point.rounded(value) == value
    except ValueError:
        return False


def build_control(builder: Builder, key: str, path: Path_, section: Section) -> Control | None:
    """Return a control; what it looks like follows from whether it is a flag, has labels, or is a number."""
    point = builder.point(path, section)
    if point is None:
        return None
    found = builder.document.mistakes
    kind = ControlKind.SWITCH if point.flag else ControlKind.SELECT if "labels" in section else ControlKind.NUMBER
    barred = {
        ControlKind.SWITCH: ("labels", "min", "max", "step", "unit"),
        ControlKind.SELECT: ("min", "max", "step", "unit"),
        ControlKind.NUMBER: (),
    }[kind]
    for name in barred:
        if name in section:
            switch = kind is ControlKind.SWITCH
            reason = mistake("switch_has_no", key=name) if switch else mistake("select_has_no", key=name)
            builder.document.wrong((*path, name), reason, cure("leave_out"))
    if kind is ControlKind.NUMBER:
        check_max(builder, path, section)
    texts = texts_of(builder.document, path, section, point, None) if kind is ControlKind.SELECT else None
    ends = limits(builder, path, section, point)
    step = _step(builder, path, section, point)
    around = build_around(builder, path, section)
    if builder.document.mistakes > found or ends is None:
        return None
    return Control(
        key=key,
        point=point,
        kind=kind,
        poll=Poll(str(section.get("poll", Poll.SLOW))),
        name=cast("str | None", section.get("name")),
        unit=cast("str | None", section.get("unit")),
        minimum=ends[0],
        maximum=ends[1],
        step=step,
        labels=texts.labels if texts is not None else {},
        around=around,
    )


def _step(builder: Builder, path: Path_, section: Section, point: Point) -> float | None:
    """Return the map's own step, which has to be one that the register can hold."""
    if "step" not in section:
        return None
    least = abs(point.scale)
    step = Decimal(str(section["step"]))
    if step % least and not NUMBERS[point.type].is_float and point.scale_at is None:
        builder.document.wrong((*path, "step"), mistake("coarser_steps", step=least), cure("multiple", step=least))
    return float(step)


def limits(builder: Builder, path: Path_, section: Mapping[str, object], point: Point) -> tuple[float, float] | None:
    """Lowest and highest value that may be set; those of the type where the map gives none."""
    low, high = point.range()
    minimum, maximum = cast("float", section.get("min", low)), cast("float", section.get("max", high))
    if "min" not in section and "step" in section:
        # Steps are counted from the minimum, and nobody counts them from −32768.
        step = Decimal(str(section["step"]))
        minimum = float((Decimal(str(low)) / step).to_integral_value(ROUND_CEILING) * step)
    found = builder.document.mistakes
    # With a power of ten from another register what fits is not known here.
    for name, value in (("min", minimum), ("max", maximum)) if point.scale_at is None else ():
        if not low <= value <= high:
            holds = cure("holds", low=f"{low:g}", high=f"{high:g}")
            builder.document.wrong((*path, name), mistake("not_fitting", value=f"{value:g}"), holds)
        elif name == "max" and name in section and value == high and point.bits is None:
            builder.document.wrong((*path, name), mistake("max_of_type", value=f"{value:g}"), cure("max"))
    if builder.document.mistakes > found:
        return None
    if minimum > maximum:
        key = "min" if "min" in section else "max"
        reason = mistake("min_above_max", minimum=f"{minimum:g}", maximum=f"{maximum:g}")
        builder.document.wrong((*path, key), reason, cure("swap"))
        return None
    if point.scale_at is None and point.nearest(minimum, minimum, maximum) is None:
        reason = mistake("nothing_between", minimum=f"{minimum:g}", maximum=f"{maximum:g}")
        builder.document.wrong((*path, "min"), reason, cure("holds_steps", low=f"{low:g}", step=abs(point.scale)))
        return None
    return minimum, maximum


def check_max(builder: Builder, path: Path_, section: Mapping[str, object]) -> None:
    """Note a number without a highest value: all that its register can hold could then be written."""
    if "max" not in section:
        builder.document.doubtful(path, mistake("no_max"), cure("max"))


def build_clock(builder: Builder, section: Section) -> Clock | None:
    """Return the inverter's clock."""
    layout = str(section["layout"])
    found = builder.document.mistakes
    first = builder.address(("clock", "holding"), section["holding"], CLOCK_LAYOUTS[layout].registers)
    if CLOCK_LAYOUTS[layout].has_weekday is not ("weekdays" in section):
        given = "weekdays" in section
        reason = mistake("has_no", name=layout, key="weekdays") if given else mistake("weekdays_not_told")
        right = cure("leave_out") if given else cure("give", choice=", ".join(WEEKDAYS))
        builder.document.wrong(("clock", "weekdays"), reason, right)
    builder.check_length(("clock",), CLOCK_LAYOUTS[layout].registers)
    around = build_around(builder, ("clock",), section)
    if first is None or builder.document.mistakes > found:
        return None
    point = ClockPoint(
        first=first,
        layout=layout,
        year_base=cast("int", section["year_base"]),
        low_first=builder.low_first,
        weekdays=str(section.get("weekdays", "monday_0")),
    )
    return Clock(point=point, keeps=Keeps(str(section["keeps"])), poll=Poll(str(section["poll"])), around=around)
