"""The fewest write requests that take an image to another."""

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass, field

from ..registers import Address, Table
from .image import Image, Masks


@dataclass(frozen=True, slots=True)
class Frame:
    """One write request: consecutive holding registers from `first` on.

    With a `mask` it is of one register, of which the inverter changes only these bits itself (function 22).
    """

    first: int
    values: tuple[int, ...]
    mask: int | None = None
    whole: bool = False
    """Whether it is a window that is only taken whole: by function 16, also where the map writes one register at a time."""

    @property
    def addresses(self) -> tuple[Address, ...]:
        """The registers that it writes."""
        return tuple((Table.HOLDING, self.first + index) for index in range(len(self.values)))


class NoFrames(Exception):
    """Registers that have to be written by one request do not fit into one."""


@dataclass(frozen=True, kw_only=True, slots=True)
class FrameRules:
    """What one write request may carry."""

    named: Collection[Address]
    """Holding registers that may be written."""

    longest: int
    """Registers at most."""

    masks: Masks = field(default_factory=dict)
    """The bits that may be changed of registers that are shared with something else."""

    by_mask: bool = False
    """Whether the inverter changes bits of shared registers itself (function 22)."""

    wholes: Collection[range] = ()
    """Stretches of registers that the inverter only takes whole, each in a request of its own."""

    def fit_together(self, group: Collection[Address]) -> bool:
        """Whether one write request can carry these registers, with those between them."""
        span = range(min(at for _, at in group), max(at for _, at in group) + 1)
        if any(span[0] in whole and span[-1] in whole for whole in self.wholes):
            return True
        fits = len(span) <= self.longest and all((Table.HOLDING, at) in self.named for at in span)
        return fits and not any(at in whole for at in span for whole in self.wholes)


type Together = Collection[Collection[Address]]
"""Groups of registers; what changes of one group goes in one request."""


def frames(was: Image, now: Image, rules: FrameRules, together: Together = ()) -> tuple[Frame, ...]:
    """Write what differs, and nothing that `rules` do not name.

    A register that stays as it is goes along only between two that change, so that a change remains one frame; a shared one never does,
    since nobody else's bits are written without need. What is only taken whole goes whole, whatever of it changes.
    Raises NoFrames where a group of registers does not fit into a frame.
    """
    changed = {at for (table, at) in rules.named if was[table, at] != now[table, at]}
    wholes = [span for span in rules.wholes if not changed.isdisjoint(span)]
    differing = changed.difference(*wholes)
    shared = {at for (_, at) in rules.masks}
    may_go_along = {at for (_, at) in rules.named if at in differing or at not in shared}.difference(*rules.wholes)

    def fits(first: int, last: int) -> bool:
        """Whether one frame may carry all from `first` to `last`."""
        span = range(first, last + 1)
        if len(span) > 1 and rules.by_mask and not shared.isdisjoint(span):
            return False
        return len(span) <= rules.longest and may_go_along.issuperset(span)

    for group in together:
        some = changed.intersection(at for _, at in group)
        if any(not some.isdisjoint(span) and not some <= set(span) for span in wholes):
            raise NoFrames(f"registers {min(some)} to {max(some)} do not fit into one request")
    found = [Frame(span[0], tuple(now[Table.HOLDING, at] for at in span), whole=True) for span in wholes]
    # Taking as many stretches as fit is the fewest frames: a frame that carries some in a row carries any part of them as well.
    begun: tuple[int, int] | None = None
    for first, last in _stretches(differing, together):
        if not fits(first, last):
            raise NoFrames(f"registers {first} to {last} do not fit into one request")
        if begun is not None and fits(begun[0], last):
            begun = begun[0], last
            continue
        if begun is not None:
            found.append(_frame(now, *begun, rules))
        begun = first, last
    if begun is not None:
        found.append(_frame(now, *begun, rules))
    return tuple(sorted(found, key=lambda frame: frame.first))


def _stretches(differing: Collection[int], together: Together) -> Iterator[tuple[int, int]]:
    """Return what must not be cut, from first to last register, in order: single registers, and groups run into one where they overlap."""
    spans = [(at, at) for at in differing]
    for group in together:
        changed = [at for (_, at) in group if at in differing]
        if changed:
            spans.append((min(changed), max(changed)))
    return _merged(sorted(spans))


def _merged(spans: Iterable[tuple[int, int]]) -> Iterator[tuple[int, int]]:
    begun: tuple[int, int] | None = None
    for first, last in spans:
        if begun is not None and first <= begun[1]:
            begun = begun[0], max(begun[1], last)
            continue
        if begun is not None:
            yield begun
        begun = first, last
    if begun is not None:
        yield begun


def _frame(now: Image, first: int, last: int, rules: FrameRules) -> Frame:
    values = tuple(now[Table.HOLDING, at] for at in range(first, last + 1))
    mask = rules.masks.get((Table.HOLDING, first)) if rules.by_mask and first == last else None
    return Frame(first, values, mask)
