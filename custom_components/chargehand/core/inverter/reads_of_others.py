"""What a poll may take from reads that another client asked for, and which reads it still needs.

A read of a poll also answers the other client's next request, if it brings all of it. Leaving that read out costs the line this request.
"""

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Protocol

from ..registers import Address, Batch

type Registers = tuple[int, ...]


class ReadsOfOthers(Protocol):
    """What another client reads through Chargehand."""

    def lately(self) -> Mapping[Batch, Registers]:
        """Return its reads that are new enough for a poll, unless a later read or write may have made them old."""

    def asked(self) -> Collection[Batch]:
        """Return the reads that it asks for, also those that were not passed on."""


@dataclass(frozen=True, slots=True)
class Linked:
    """Keys that share registers, directly or through others: they are taken from one read or not at all."""

    keys: frozenset[str]
    addresses: frozenset[Address]


def linked(addresses: Mapping[str, Iterable[Address]]) -> tuple[Linked, ...]:
    """Return the keys with these registers, together where they share some."""
    found: list[Linked] = []
    for key, own in addresses.items():
        one = Linked(frozenset({key}), frozenset(own))
        for other in [other for other in found if not other.addresses.isdisjoint(one.addresses)]:
            found.remove(other)
            one = Linked(one.keys | other.keys, one.addresses | other.addresses)
        found.append(one)
    return tuple(found)


@dataclass(frozen=True, kw_only=True, slots=True)
class Share:
    """The reads that a poll sends, and the registers that it takes from reads of another client."""

    batches: tuple[Batch, ...]
    taken: Mapping[Address, int] = field(default_factory=dict)


def share(
    usual: tuple[Batch, ...],
    takeable: Collection[Linked],
    others: ReadsOfOthers,
    *,
    without: Callable[[frozenset[str]], tuple[Batch, ...]],
    seconds: Callable[[Iterable[Batch]], float],
) -> Share:
    """Return the cheapest way to all values: the `usual` reads, or fewer and the rest from what others read lately.

    `without` returns the cheapest reads that bring everything but some keys, `seconds` the time that reads take. What another client asks
    for and has to read sooner than after the usual reads counts too.
    """
    if not (lately := others.lately()):
        return Share(batches=usual)
    sources = {one: read for one in takeable for read in lately if one.addresses <= _addresses(read)}
    after_usual = {read: _state(read, usual) for read in others.asked()}
    answered = {read for read, state in after_usual.items() if state == _BROUGHT}

    def cost(batches: tuple[Batch, ...]) -> tuple[float, float]:
        sooner = (read for read, state in after_usual.items() if _state(read, batches) > state)
        own = seconds(batches)
        return own + seconds(sooner), own

    options = [usual]
    for reads in (lately.keys() - answered, lately.keys()):
        keys = frozenset[str]().union(*(one.keys for one, read in sources.items() if read in reads))
        options.append(without(keys) if keys else usual)
    batches = min(options, key=cost)
    brought = frozenset[Address]().union(*map(_addresses, batches))
    taken: dict[Address, int] = {}
    for one, read in sources.items():
        if not one.addresses <= brought:
            taken |= {(table, at): lately[read][at - read.first] for table, at in one.addresses}
    return Share(batches=batches, taken=taken)


_BROUGHT, _KEPT, _TORN = range(3)
"""What reads make of what is remembered for another client: they bring it anew, leave it, or make a part of it old."""


def _state(read: Batch, batches: Iterable[Batch]) -> int:
    own = _addresses(read)
    left = own.difference(*map(_addresses, batches))
    return _TORN if left and left != own else _KEPT if left else _BROUGHT


def _addresses(read: Batch) -> frozenset[Address]:
    return frozenset((read.table, read.first + index) for index in range(read.count))
