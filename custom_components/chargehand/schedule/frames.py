"""The fewest write frames that take an image to another."""

from collections.abc import Collection
from dataclasses import dataclass

from ..registers import Address, Table
from .image import Image


@dataclass(frozen=True, slots=True)
class Frame:
    """One write request: consecutive holding registers from `first` on."""

    first: int
    values: tuple[int, ...]


def frames(was: Image, now: Image, named: Collection[Address], longest: int) -> tuple[Frame, ...]:
    """Write what differs, and nothing that the schedule does not name.

    A register that stays as it is goes along only between two that change, so that a change remains one frame.
    """
    differing = sorted(address for (table, address) in named if was[table, address] != now[table, address])
    may_pass = {address for (_, address) in named}
    found: list[Frame] = []
    first: int | None = None
    last = 0
    for address in differing:
        if first is not None and address - first < longest and may_pass.issuperset(range(last, address)):
            last = address
            continue
        if first is not None:
            found.append(_frame(now, first, last))
        first = last = address
    if first is not None:
        found.append(_frame(now, first, last))
    return tuple(found)


def _frame(now: Image, first: int, last: int) -> Frame:
    return Frame(first, tuple(now[Table.HOLDING, address] for address in range(first, last + 1)))
