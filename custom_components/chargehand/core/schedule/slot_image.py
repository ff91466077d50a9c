"""One of an inverter's windows as registers: what they say of it, on the inverter's own clock, and back."""

from collections.abc import Sequence
from dataclasses import replace

from ..registers import EVERY_DAY, Address, Limit, Mode, Raw, SchedulePoints, Value, WindowPoints
from .windows import DAY, Window

LIMITS = ("current", "power", "stop_level")


def limit_of(points: WindowPoints, name: str) -> Limit | None:
    """Where a window keeps the limit called `current`, `power` or `stop_level`."""
    limit: Limit | None = getattr(points, name)
    return limit


def shared_limits(places: Sequence[WindowPoints]) -> tuple[str, ...]:
    """Return the limits that all windows of one side have in common."""
    limits = {name: limit_of(where, name) for where in places[:1] for name in LIMITS}
    return tuple(name for name, limit in limits.items() if limit is not None and limit.shared)


def read_slot(points: SchedulePoints, where: WindowPoints, image: Raw) -> Window:
    """Return what one of the inverter's windows is by an image, on its own clock."""
    times = _read_times(points, where, image)
    other = where.active.other_use(image) if isinstance(where.active, Mode) else None
    active = True if where.active is None else other is None and where.active.decode(image)
    start, end = (0, 0) if times is None or active is None else times
    limits: dict[str, float | None] = {}
    for name in LIMITS:
        limit = limit_of(where, name)
        value = None if limit is None else limit.point.decode(image)
        limits[name] = float(value) if isinstance(value, int | float) else None
    readable = other is not None or (times is not None and active is not None)
    days = where.days.decode(image) if where.days is not None and active and start != end else EVERY_DAY
    return Window(
        start=start,
        end=end,
        current=limits["current"],
        power=limits["power"],
        stop_level=limits["stop_level"],
        active=bool(active),
        readable=readable,
        days=None if days == EVERY_DAY else days,
        other_use=other,
    )


def write_slot(points: SchedulePoints, where: WindowPoints, slot: Window, image: Raw) -> dict[Address, int]:
    """Return the registers of a window that differ from those of an image. What cannot be read is left alone, unless the window is readable.

    Raises ValueError when a value cannot be written down.
    """
    new: dict[Address, int] = {}
    held = read_slot(points, where, image)
    # A time that is already there keeps its own spelling (24:00 or 00:00): rewriting it would change nothing but wear.
    if slot.readable and _read_times(points, where, image) != (slot.start, slot.end):
        new |= _write_times(points, where, slot)
    for name in LIMITS:
        limit = limit_of(where, name)
        value: Value | None = getattr(slot, name)
        if limit is not None and value is not None and limit.point.decode(image) != value:
            new |= limit.point.encode(value, image)
    if where.active is not None and slot.other_use is None:
        state = where.active.decode(image) if slot.readable else held.active
        if state != slot.active:
            new |= where.active.encode(slot.active, image)
    if where.days is not None and slot.daily and where.days.decode(image) != EVERY_DAY:
        new |= where.days.every_day({**image, **new})
    return new


def taken_off(where: WindowPoints, window: Window) -> Window:
    """Return a window off the schedule; its times stay where the map has a bit for that, and they can be read."""
    unused = window if window.readable and where.active is not None else window.unused()
    return unused if where.active is None else replace(unused, active=False, days=None, other_use=None)


def _read_times(points: SchedulePoints, where: WindowPoints, image: Raw) -> tuple[int, int] | None:
    """Return start and end, both 0 for an unused window; None when the registers hold no times."""
    if where.says_unused(image):
        return 0, 0
    start, end = where.start.decode(image), where.end.decode(image)
    if where.by_duration:
        return _lasting(start, end)
    return None if start is None or end is None else _plain(points, start, end)


def _lasting(start: int | None, minutes: int | None) -> tuple[int, int] | None:
    """Return the times of a window that lasts so many minutes."""
    if minutes == 0:
        return 0, 0
    if start is None or minutes is None:
        return None
    return (0, DAY) if minutes == DAY else (start % DAY, (start + minutes) % DAY or DAY)


def _plain(points: SchedulePoints, start: int, end: int) -> tuple[int, int]:
    """Return times as windows have them, whichever way this inverter writes the end of the day and an unused window."""
    if points.latest_end == "23:59" and end == DAY - 1:
        end = DAY
    start %= DAY
    if (start, end) == (0, DAY):
        return 0, DAY
    return (0, 0) if start == end % DAY else (start, end or DAY)


def _write_times(points: SchedulePoints, where: WindowPoints, slot: Window) -> dict[Address, int]:
    if slot.start == slot.end:
        return {address: value for blank in where.blanks for address, value in blank.items()}
    if where.by_duration:
        return where.start.encode(slot.start) | where.end.encode((slot.end - slot.start) % DAY or DAY)
    end = slot.end
    if end == DAY:
        end = {"24:00": DAY, "23:59": DAY - 1, "00:00": 0}[points.latest_end]
    return where.start.encode(slot.start) | where.end.encode(end)
