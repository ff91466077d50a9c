"""Registers that would mean two things, or be read although they must not be."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from heapq import heapify, heappop, heappush

from ...reasons import Reason
from ..register_map import (
    Address,
    ClockPoint,
    Control,
    Limit,
    Point,
    RegisterMap,
    Span,
    Table,
    TimePoint,
    WindowPoints,
    WritesAround,
    cure,
    mistake,
)
from .document import Document, Path_, dotted

ENOUGH = 20
"""Clashes of one key that are looked for: with more, the map is not a few mistakes away from being right."""


@dataclass(frozen=True, kw_only=True, slots=True)
class _Use:
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


type _Uses = Mapping[_Use, list[Path_]]
"""Every use with the keys that make it, in the order of the registers."""

type _Clashes = dict[Path_, dict[Path_, int]]
"""The keys that each key clashes with, and at which register."""


def check_overlaps(document: Document, map_: RegisterMap, base: int) -> None:
    """Note every key that gives registers a meaning which they have by another key, and every `no_read` over a key.

    A key that clashes with many is named once: the mistake is in it, not in them. `base` is what addresses count from.
    """
    uses = _ordered(_uses(document, map_))
    weights = {paths[0]: len(paths) for paths in uses.values()}
    for worst, others in _fewest(document, _clashes(uses), weights):
        owner, register = min(others.items(), key=lambda item: item[1])
        document.wrong(worst, _taken(register + base, dotted(owner), len(others) - 1), cure("address_and_type"))
    for index, span in enumerate(map_.line.no_read):
        within = {
            path: max(use.first, span.first) for use, paths in uses.items() if _within(use, span) for path in paths
        }
        if within:
            path, register = next(iter(within.items()))
            needed = _needed(register + base, dotted(path), len(within) - 1)
            document.wrong(("line", "no_read", index), needed, cure("shorter_range"))


def _ordered(uses: Iterable[tuple[Path_, _Use]]) -> _Uses:
    found: dict[_Use, list[Path_]] = defaultdict(list)
    for path, use in uses:
        found[use].append(path)
    return dict(sorted(found.items(), key=lambda item: (item[0].table, item[0].first, item[0].last)))


def _clashes(uses: _Uses) -> _Clashes:
    """Which keys clash, each use by the first of its keys. One pass over the registers; those that still reach on are at hand."""
    found: _Clashes = {}

    def clash(path: Path_, other: Path_, register: int) -> None:
        if path != other:
            found.setdefault(path, {}).setdefault(other, register)
            found.setdefault(other, {}).setdefault(path, register)

    reaching: dict[_Use, Path_] = {}
    ends: list[tuple[Table, int, int, _Use]] = []
    for number, (use, paths) in enumerate(uses.items()):
        while ends and ends[0][:2] < (use.table, use.first):
            del reaching[heappop(ends)[3]]
        if use.sets and not use.commands:
            for other in paths[1:]:
                clash(other, paths[0], use.first)
        left = ENOUGH
        for other_use, other in reaching.items():
            if paths[0] != other and _clash(use, other_use):
                clash(paths[0], other, use.first)
                left -= 1
                if not left:
                    break
        reaching[use] = paths[0]
        heappush(ends, (use.table, use.last, number, use))
    return found


def _fewest(
    document: Document, clashes: _Clashes, weights: Mapping[Path_, int]
) -> Iterator[tuple[Path_, dict[Path_, int]]]:
    """Keys without which nothing clashes, the one with most clashes first, of equals the one that stands last."""
    most = {path: sum(weights.get(other, 1) for other in others) for path, others in clashes.items()}
    queue = [(-most[path], -document.line_of(path), number, path) for number, path in enumerate(clashes)]
    heapify(queue)
    while queue:
        count, line, number, path = heappop(queue)
        if path not in clashes:
            continue
        if -count != most[path]:
            heappush(queue, (-most[path], line, number, path))
            continue
        others = clashes.pop(path)
        yield path, others
        for other in others:
            del clashes[other][path]
            most[other] -= weights.get(path, 1)
            if not clashes[other]:
                del clashes[other]


def _taken(register: int, key: str, more: int) -> Reason:
    if more:
        return mistake("register_taken_more", register=register, key=key, count=more)
    return mistake("register_taken", register=register, key=key)


def _needed(register: int, key: str, more: int) -> Reason:
    if more:
        return mistake("register_needed_more", register=register, key=key, count=more)
    return mistake("register_needed", register=register, key=key)


def _clash(use: _Use, other: _Use) -> bool:
    if use.bits is not None and other.bits is not None:
        apart = use.bits[1] < other.bits[0] or other.bits[1] < use.bits[0]
        return not apart and (use.bits != other.bits or (use.sets and other.sets))
    same_place = (use.first, use.last) == (other.first, other.last)
    if use.commands or other.commands:
        # What can be told of a command by reading it may well be a reading too.
        return not same_place or (use.sets and other.sets and not (use.commands and other.commands))
    if use.bits is not None or other.bits is not None:
        # A bit of a register that is also read as a whole is fine, set two ways it is not.
        return not same_place or (use.sets and other.sets)
    return not same_place or use.meaning != other.meaning or (use.sets and other.sets)


def _within(use: _Use, span: Span) -> bool:
    return use.is_read and span.table is use.table and span.first <= use.last and use.first <= span.last


def _uses(document: Document, map_: RegisterMap) -> Iterator[tuple[Path_, _Use]]:
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
    if map_.schedule is None:
        return
    yield from _of_commands(("schedule",), map_.schedule.around)
    for side, windows in (("charge", map_.schedule.charge), ("discharge", map_.schedule.discharge)):
        for index, window in enumerate(windows):
            own: Path_ = ("schedule", side, "windows", index)
            regular: Path_ = ("schedule", side, "holding")
            if index == 0:
                yield from _shared(side, window)
            for name, use in _of_window(window):
                # In a regular layout there is one key to every address, so one to blame.
                yield (*own, name) if own in document.lines else regular, use


def _arms(map_: RegisterMap, control: Control) -> bool:
    """Whether a control arms the schedule: the writes around its changes are the schedule's."""
    schedule = map_.schedule
    return schedule is not None and schedule.armed_by is not None and schedule.armed_by.control is control


def _of_commands(path: Path_, around: WritesAround) -> Iterator[tuple[Path_, _Use]]:
    for key, commands in (("before_write", around.before), ("after_write", around.after)):
        for index, command in enumerate(commands):
            at, is_read = command.register, command.reads is not None
            use = _Use(table=Table.HOLDING, first=at, last=at, meaning="", sets=True, commands=True, is_read=is_read)
            yield (*path, key, index), use


def _shared(side: str, window: WindowPoints) -> Iterator[tuple[Path_, _Use]]:
    for name, limit in _limits(window):
        if limit.shared:
            yield from _of_point(("schedule", side, "shared", name), limit.point, sets=True)


def _limits(window: WindowPoints) -> Iterator[tuple[str, Limit]]:
    for name, limit in (("current", window.current), ("power", window.power), ("stop_level", window.stop_level)):
        if limit is not None:
            yield name, limit


def _of_window(window: WindowPoints) -> Iterator[tuple[str, _Use]]:
    yield "start", _of_time(window.start)
    yield "duration" if window.by_duration else "end", _of_time(window.end)
    for name, limit in _limits(window):
        if not limit.shared:
            yield from ((name, use) for _, use in _of_point((), limit.point, sets=True))
    if window.active is not None:
        yield from (("active", use) for _, use in _of_point((), window.active, sets=True))


def _of_point(path: Path_, point: Point, *, sets: bool) -> Iterator[tuple[Path_, _Use]]:
    for index, word in enumerate(point.words):
        # Each lies apart from the others, so it has a meaning of its own.
        meaning = f"word {index} of {point.type} {point.words}"
        yield path, _Use(table=point.table, first=word, last=word, meaning=meaning, sets=sets)
    if not point.words:
        last = point.first + point.length - 1
        yield (
            path,
            _Use(table=point.table, first=point.first, last=last, meaning=_meaning(point), bits=point.bits, sets=sets),
        )
    if point.scale_at is not None:
        table, first = point.scale_at
        yield (*path, "scale_at"), _Use(table=table, first=first, last=first, meaning="s16")


def _meaning(point: Point) -> str:
    """Return what tells two readings of the same registers apart, besides their bits."""
    low_words = point.low_first and point.length > 1
    return f"{point.type}{' low word first' * low_words}{' low byte first' * point.low_byte_first}"


def _of_time(point: TimePoint | ClockPoint) -> _Use:
    addresses: tuple[Address, ...] = point.addresses
    (table, first), (_, last) = addresses[0], addresses[-1]
    return _Use(table=table, first=first, last=last, meaning=point.layout, sets=True)
