"""Registers that would mean two things, or be read although they must not be."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from .document import Document, Path_, dotted
from .layouts import ClockPoint, TimePoint
from .model import RegisterMap, Span, WindowPoints
from .points import Address, Point, Table

LONGEST = 60
"""Registers of the longest value."""


@dataclass(frozen=True, kw_only=True, slots=True)
class _Use:
    """A stretch of registers that one key of the map gives a meaning."""

    path: Path_
    table: Table
    first: int
    last: int
    meaning: str
    bits: tuple[int, int] | None = None
    sets: bool = False
    """Whether it can be written by this key."""


def check_overlaps(document: Document, map_: RegisterMap, base: int) -> None:
    """Note every key that gives registers a meaning which they have by another key, and every `no_read` over a key.

    A key that clashes with many is named once: the mistake is in it, not in them. `base` is what addresses count from.
    """
    uses = sorted(_uses(document, map_), key=lambda use: (use.table, use.first, use.last))
    clashes: dict[Path_, dict[Path_, int]] = {}
    for index, use in enumerate(uses):
        for other in _reaching(uses, index):
            if use.path != other.path and _clash(use, other):
                clashes.setdefault(use.path, {}).setdefault(other.path, use.first)
                clashes.setdefault(other.path, {}).setdefault(use.path, use.first)
    while clashes:
        worst = max(clashes, key=lambda path: (len(clashes[path]), document.line_of(path)))
        others = clashes.pop(worst)
        owner, register = min(others.items(), key=lambda item: item[1])
        document.wrong(
            worst,
            f"register {register + base} also belongs to {dotted(owner)}{_more(others)}",
            "look the address and the type up again",
        )
        for path in others:
            del clashes[path][worst]
            if not clashes[path]:
                del clashes[path]
    for index, span in enumerate(map_.line.no_read):
        within = {use.path: max(use.first, span.first) for use in uses if _within(use, span)}
        if within:
            path, register = next(iter(within.items()))
            document.wrong(
                ("line", "no_read", index),
                f"register {register + base} is needed for {dotted(path)}{_more(within)}",
                "shorten the range, or take the value out of the map",
            )


def _more(paths: dict[Path_, int]) -> str:
    return f" (and {len(paths) - 1} more)" if len(paths) > 1 else ""


def _reaching(uses: list[_Use], index: int) -> Iterator[_Use]:
    """Uses before this one that reach into it."""
    use = uses[index]
    for before in range(index - 1, -1, -1):
        other = uses[before]
        if other.table is not use.table or other.first <= use.first - LONGEST:
            return
        if other.last >= use.first:
            yield other


def _clash(use: _Use, other: _Use) -> bool:
    if use.bits is not None and other.bits is not None:
        apart = use.bits[1] < other.bits[0] or other.bits[1] < use.bits[0]
        return not apart and (use.bits != other.bits or (use.sets and other.sets))
    same_place = (use.first, use.last) == (other.first, other.last)
    if use.bits is not None or other.bits is not None:
        # A bit of a register that is also read as a whole is fine, set two ways it is not.
        return not same_place or (use.sets and other.sets)
    return not same_place or use.meaning != other.meaning or (use.sets and other.sets)


def _within(use: _Use, span: Span) -> bool:
    return span.table is use.table and span.first <= use.last and use.first <= span.last


def _uses(document: Document, map_: RegisterMap) -> Iterator[_Use]:
    for item in map_.identity:
        yield from _of_point(("identity", item.key), item.point, sets=False)
    for key, reading in map_.readings.items():
        yield from _of_point(("readings", key), reading.point, sets=False)
    for key, control in map_.controls.items():
        yield from _of_point(("controls", key), control.point, sets=True)
    if map_.clock is not None:
        yield _of_time(("clock",), map_.clock.point)
    if map_.schedule is None:
        return
    for side, windows in (("charge", map_.schedule.charge), ("discharge", map_.schedule.discharge)):
        for index, window in enumerate(windows):
            own: Path_ = ("schedule", side, "windows", index)
            regular: Path_ = ("schedule", side, "holding")
            for name, use in _of_window(window):
                # In a regular layout there is one key to every address, so one to blame.
                yield replace(use, path=(*own, name) if own in document.lines else regular)


def _of_window(window: WindowPoints) -> Iterator[tuple[str, _Use]]:
    yield "start", _of_time((), window.start)
    yield "end", _of_time((), window.end)
    for name, limit in (("current", window.current), ("power", window.power), ("stop_level", window.stop_level)):
        if limit is not None:
            yield from ((name, use) for use in _of_point((), limit.point, sets=True))
    if window.active is not None:
        yield from (("active", use) for use in _of_point((), window.active, sets=True))


def _of_point(path: Path_, point: Point, *, sets: bool) -> Iterator[_Use]:
    yield _Use(
        path=path,
        table=point.table,
        first=point.first,
        last=point.first + point.length - 1,
        meaning=point.type,
        bits=point.bits,
        sets=sets,
    )
    if point.scale_at is not None:
        table, first = point.scale_at
        yield _Use(path=(*path, "scale_at"), table=table, first=first, last=first, meaning="s16")


def _of_time(path: Path_, point: TimePoint | ClockPoint) -> _Use:
    addresses: tuple[Address, ...] = point.addresses
    (table, first), (_, last) = addresses[0], addresses[-1]
    return _Use(path=path, table=table, first=first, last=last, meaning=point.layout, sets=True)
