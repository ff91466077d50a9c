"""A schedule as registers: what it is on one inverter, and back.

Times in registers are on the inverter's clock; `shift` is how many minutes that clock is ahead of the house's.
"""

from collections.abc import Iterable, Mapping

from ..registers import Address, Limit, Point, SchedulePoints, Value, WindowPoints
from .windows import DAY, Schedule, Side, Window

type Image = Mapping[Address, int]
"""The raw register values of a schedule."""


class NoImage(Exception):
    """These registers hold no schedule that can be understood."""


type Masks = Mapping[Address, int]
"""The bits of a register that are the schedule's, for registers that it shares with something else."""


def masks_of(points: SchedulePoints) -> Masks:
    """The registers that the schedule shares, with its own bits."""
    parts = [window.active for window in (*points.charge, *points.discharge) if window.active is not None]
    if points.armed_by is not None:
        parts.append(points.armed_by.control.point)
    return bits_of(parts)


def bits_of(parts: Iterable[Point]) -> Masks:
    """The registers of which these points take only some bits, with those bits."""
    masks: dict[Address, int] = {}
    for point in parts:
        if point.bits is not None:
            low, high = point.bits
            address = (point.table, point.first)
            masks[address] = masks.get(address, 0) | ((1 << (high - low + 1)) - 1) << low
    return masks


def upon(target: Image, seen: Image, masks: Masks) -> Image:
    """The target with the bits that are not the schedule's as they were seen: nobody else's bit is put back."""
    if not masks:
        return target
    kept = {
        address: (target[address] & mask) | (seen[address] & ~mask & 0xFFFF)
        for address, mask in masks.items()
        if address in target and address in seen
    }
    return {**target, **kept}


def holds(seen: Image | None, target: Image, masks: Masks) -> bool:
    """Whether what was seen is the target, but for bits that are not the schedule's."""
    return seen is not None and seen == upon(target, seen, masks)


LIMITS = ("current", "power", "stop_level")


def points_of(points: SchedulePoints, side: Side) -> tuple[WindowPoints, ...]:
    """Where the windows of one side are."""
    return points.charge if side is Side.CHARGE else points.discharge


def limit_of(points: WindowPoints, name: str) -> Limit | None:
    """Where a window keeps the limit called `current`, `power` or `stop_level`."""
    limit: Limit | None = getattr(points, name)
    return limit


def read_schedule(points: SchedulePoints, image: Image, shift: int = 0) -> Schedule:
    """Tell what an image says. Raises NoImage when a register is missing or holds no time."""
    return Schedule(
        charge=tuple(_read_window(points, where, image, shift) for where in points.charge),
        discharge=tuple(_read_window(points, where, image, shift) for where in points.discharge),
        armed=_read_armed(points, image),
    )


def write_schedule(points: SchedulePoints, schedule: Schedule, image: Image, shift: int = 0) -> Image:
    """The image of a schedule, made from one just read: only what the schedule says is changed in it.

    Raises ValueError when a value cannot be written down; the check comes first, so that is a fault of the program.
    """
    new = dict(image)
    for side in Side:
        for where, window in zip(points_of(points, side), schedule.side(side), strict=True):
            new |= _write_window(points, where, window, new, shift)
    if points.armed_by is not None and schedule.armed is not None and _read_armed(points, image) != schedule.armed:
        value = points.armed_by.value
        new |= points.armed_by.control.encode(value if schedule.armed else not value, new)
    return new


def _read_window(points: SchedulePoints, where: WindowPoints, image: Image, shift: int) -> Window:
    start, end = where.start.decode(image), where.end.decode(image)
    if start is None or end is None:
        raise NoImage(f"no time in register {where.start.addresses[0][1]} or {where.end.addresses[0][1]}")
    limits: dict[str, float | None] = {}
    for name in LIMITS:
        limit = limit_of(where, name)
        value = None if limit is None else limit.point.decode(image)
        limits[name] = float(value) if isinstance(value, int | float) else None
    active = True if where.active is None else bool(where.active.decode(image))
    start, end = _to_house(points, start, end, shift)
    return Window(start=start, end=end, active=active, **limits)


def _to_house(points: SchedulePoints, start: int, end: int, shift: int) -> tuple[int, int]:
    if points.latest_end == "23:59" and end == DAY - 1:
        end = DAY
    start %= DAY
    if start == 0 and end == DAY:
        return 0, DAY
    if start == end % DAY:
        return 0, 0
    return (start - shift) % DAY, (end - shift) % DAY or DAY


def _to_inverter(points: SchedulePoints, window: Window, shift: int) -> tuple[int, int]:
    if window.start == window.end:
        return 0, 0
    if (window.start, window.end) == (0, DAY):
        start, end = 0, DAY
    else:
        start, end = (window.start + shift) % DAY, (window.end + shift) % DAY or DAY
    if end == DAY:
        end = {"24:00": DAY, "23:59": DAY - 1, "00:00": 0}[points.latest_end]
    return start, end


def _write_window(
    points: SchedulePoints, where: WindowPoints, window: Window, image: Image, shift: int
) -> dict[Address, int]:
    new: dict[Address, int] = {}
    start, end = _to_inverter(points, window, shift)
    # A time that is already there keeps its own spelling (24:00 or 00:00): rewriting it would change nothing but wear.
    if _to_house(points, *_times(where, image), shift) != (window.start, window.end):
        new |= where.start.encode(start) | where.end.encode(end)
    for name in LIMITS:
        limit = limit_of(where, name)
        value: Value | None = getattr(window, name)
        if limit is not None and value is not None and limit.point.decode(image) != value:
            new |= limit.point.encode(value, image)
    if where.active is not None and bool(where.active.decode(image)) != window.active:
        new |= where.active.encode(window.active, image)
    return new


def _times(where: WindowPoints, image: Image) -> tuple[int, int]:
    start, end = where.start.decode(image), where.end.decode(image)
    # What is no time is never equal to what is wanted.
    return (-1, -2) if start is None or end is None else (start, end)


def _read_armed(points: SchedulePoints, image: Image) -> bool | None:
    if points.armed_by is None:
        return None
    return points.armed_by.control.decode(image) == points.armed_by.value


def can_disarm(points: SchedulePoints) -> bool:
    """Whether there is a value that disarms: for a switch, the other one. A mode has several others, and none is ours to pick."""
    return points.armed_by is not None and isinstance(points.armed_by.value, bool)
