"""Registers that would mean two things, or be read although they must not be."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from heapq import heapify, heappop, heappush

from ...reasons import Reason
from ..register_map import (
    RegisterMap,
    Span,
    Table,
    cure,
    mistake,
)
from .document import Document, Path_, dotted
from .register_uses import Use, register_uses

ENOUGH = 20
"""Clashes of one key that are looked for: with more, the map is not a few mistakes away from being right."""


type _Uses = Mapping[Use, list[Path_]]
"""Every use with the keys that make it, in the order of the registers."""

type _Clashes = dict[Path_, dict[Path_, int]]
"""The keys that each key clashes with, and at which register."""


def check_overlaps(document: Document, map_: RegisterMap, base: int) -> None:
    """Note every key that gives registers a meaning which they have by another key, and every `no_read` over a key.

    A key that clashes with many is named once: the mistake is in it, not in them. `base` is what addresses count from.
    """
    uses = _ordered(register_uses(document, map_))
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


def _ordered(uses: Iterable[tuple[Path_, Use]]) -> _Uses:
    found: dict[Use, list[Path_]] = defaultdict(list)
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

    reaching: dict[Use, Path_] = {}
    ends: list[tuple[Table, int, int, Use]] = []
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


def _clash(use: Use, other: Use) -> bool:
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


def _within(use: Use, span: Span) -> bool:
    return use.is_read and span.table is use.table and span.first <= use.last and use.first <= span.last
