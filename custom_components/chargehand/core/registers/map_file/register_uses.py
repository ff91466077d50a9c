"""What each key of a map makes of which registers."""

from collections.abc import Iterator
from dataclasses import dataclass

from ..register_map import (
    Address,
    ClockPoint,
    Control,
    Limit,
    ListPoint,
    Mode,
    Point,
    RegisterMap,
    SchedulePoints,
    Table,
    TimePoint,
    Weekdays,
    WindowPoints,
    WritesAround,
)
from .document import Document, Path_


@dataclass(frozen=True, kw_only=True, slots=True)
class Use:
    """A stretch of registers to which something in the map gives a meaning."""

    table: Table
    first: int
    last: int
    meaning: str
    bits: tuple[int, int] | None = None
    sets: bool = False
    """Whether it can be written by that."""
    commands: bool = False
    """Whether that is a write around changes, of which a register may have several."""
    is_read: bool = True


def register_uses(document: Document, map_: RegisterMap) -> Iterator[tuple[Path_, Use]]:
    """Yield each key that gives registers a meaning, with these."""
    for item in map_.identity:
        yield from _of_point(("identity", item.key), item.point, sets=False)
    for key, reading in map_.readings.items():
        yield from (use for part in reading.point.parts for use in _of_point(("readings", key), part, sets=False))
    for key, control in map_.controls.items():
        yield from _of_point(("controls", key), control.point, sets=True)
        if not _arms(map_, control):
            yield from _of_commands(("controls", key), control.around)
    if map_.clock is not None:
        yield ("clock",), _of_time(map_.clock.point)
        yield from _of_commands(("clock",), map_.clock.around)
    if map_.schedule is not None:
        yield from _of_schedule(document, map_.schedule)


def _of_schedule(document: Document, schedule: SchedulePoints) -> Iterator[tuple[Path_, Use]]:
    yield from _of_commands(("schedule",), schedule.around)
    if schedule.days is not None:
        yield from _of_point(("schedule", "days"), schedule.days.point, sets=True)
    if schedule.list_of_times:
        # Its windows are no more than its points.
        for point in schedule.list_of_times:
            yield from ((("schedule", "list_of_times", "fields", name), use) for name, use in _of_list_point(point))
        return
    for side, windows in (("charge", schedule.charge), ("discharge", schedule.discharge)):
        for index, window in enumerate(windows):
            own: Path_ = ("schedule", side, "windows", index)
            regular: Path_ = ("schedule", side, "holding")
            if index == 0:
                yield from _shared(side, window)
            for name, use in _of_window(window, schedule.days):
                # In a regular layout there is one key to every address, so one to blame.
                yield (*own, name) if own in document.lines else regular, use


def _arms(map_: RegisterMap, control: Control) -> bool:
    """Whether a control arms the schedule: the writes around its changes are the schedule's."""
    schedule = map_.schedule
    return schedule is not None and schedule.armed_by is not None and schedule.armed_by.control is control


def _of_commands(path: Path_, around: WritesAround) -> Iterator[tuple[Path_, Use]]:
    for key, commands in (("before_write", around.before), ("after_write", around.after)):
        for index, command in enumerate(commands):
            at, is_read = command.register, command.reads is not None
            use = Use(table=Table.HOLDING, first=at, last=at, meaning="", sets=True, commands=True, is_read=is_read)
            yield (*path, key, index), use


def _shared(side: str, window: WindowPoints) -> Iterator[tuple[Path_, Use]]:
    for name, limit in _limits(window):
        if limit.shared:
            yield from _of_point(("schedule", side, "shared", name), limit.point, sets=True)


def _of_window(window: WindowPoints, common_days: Weekdays | None) -> Iterator[tuple[str, Use]]:
    yield "start", _of_time(window.start)
    yield "duration" if window.by_duration else "end", _of_time(window.end)
    yield from _of_limits(window)
    if isinstance(window.active, Mode):
        yield from (("mode", use) for _, use in _of_point((), window.active.point, sets=True))
    elif window.active is not None:
        yield from (("active", use) for _, use in _of_point((), window.active, sets=True))
    if window.days is not None and window.days is not common_days:
        yield from (("days", use) for _, use in _of_point((), window.days.point, sets=True))


def _of_list_point(point: ListPoint) -> Iterator[tuple[str, Use]]:
    yield "start", _of_time(point.start)
    yield from (("charging", use) for _, use in _of_point((), point.charging, sets=True))
    yield from _of_limits(point)


def _of_limits(where: WindowPoints | ListPoint) -> Iterator[tuple[str, Use]]:
    for name, limit in _limits(where):
        if not limit.shared:
            yield from ((name, use) for _, use in _of_point((), limit.point, sets=True))


def _limits(where: WindowPoints | ListPoint) -> Iterator[tuple[str, Limit]]:
    for name, limit in (("current", where.current), ("power", where.power), ("stop_level", where.stop_level)):
        if limit is not None:
            yield name, limit


def _of_point(path: Path_, point: Point, *, sets: bool) -> Iterator[tuple[Path_, Use]]:
    for index, word in enumerate(point.words):
        # Each lies apart from the others, so it has a meaning of its own.
        meaning = f"word {index} of {point.type} {point.words}"
        yield path, Use(table=point.table, first=word, last=word, meaning=meaning, sets=sets)
    if not point.words:
        last = point.first + point.length - 1
        yield (
            path,
            Use(table=point.table, first=point.first, last=last, meaning=_meaning(point), bits=point.bits, sets=sets),
        )
    if point.scale_at is not None:
        table, first = point.scale_at
        yield (*path, "scale_at"), Use(table=table, first=first, last=first, meaning="s16")


def _meaning(point: Point) -> str:
    """Return what tells two readings of the same registers apart, besides their bits."""
    low_words = point.low_first and point.length > 1
    return f"{point.type}{' low word first' * low_words}{' low byte first' * point.low_byte_first}"


def _of_time(point: TimePoint | ClockPoint) -> Use:
    addresses: tuple[Address, ...] = point.addresses
    (table, first), (_, last) = addresses[0], addresses[-1]
    return Use(table=table, first=first, last=last, meaning=point.layout, sets=True)
