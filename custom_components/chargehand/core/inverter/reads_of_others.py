"""What a poll may take from reads that another client asked for, and which reads it still needs.

A read of a poll also answers the other client's next request, if it brings all of it. Leaving that read out costs the line this request.
"""

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, field
from itertools import chain
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


def linked(addresses: Mapping[str, Collection[Address]]) -> tuple[Linked, ...]:
    """Return the keys with these registers, together where they share some."""
    keys_at: dict[Address, frozenset[str]] = {}
    for key, own in addresses.items():
        keys = frozenset({key}).union(*(keys_at[address] for address in own if address in keys_at))
        keys_at |= dict.fromkeys(chain.from_iterable(addresses[each] for each in keys), keys)
    groups = dict.fromkeys(keys_at.values())
    return tuple(Linked(keys, frozenset(chain.from_iterable(addresses[each] for each in keys))) for keys in groups)


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
    inside = {read: _addresses((read,)) for read in lately}
    sources = {one: read for one in takeable for read, own in inside.items() if one.addresses <= own}
    asked, brought = {read: _addresses((read,)) for read in others.asked()}, _addresses(usual)
    usually = {read: _state(own, brought) for read, own in asked.items()}
    answered = {read for read, state in usually.items() if state == _BROUGHT}

    def cost(batches: tuple[Batch, ...]) -> tuple[float, float]:
        own, brought = seconds(batches), _addresses(batches)
        sooner = seconds(read for read, state in usually.items() if _state(asked[read], brought) > state)
        # Rounded, because the same reads in another order are the same time.
        return round(own + sooner, 9), own

    options = [usual]
    for reads in (lately.keys() - answered, lately.keys()):
        keys = frozenset[str]().union(*(one.keys for one, read in sources.items() if read in reads))
        options.append(without(keys) if keys else usual)
    batches = min(options, key=cost)
    brought = _addresses(batches)
    taken: dict[Address, int] = {}
    for one, read in sources.items():
        if not one.addresses <= brought:
            taken |= {(table, at): lately[read][at - read.first] for table, at in one.addresses}
    return Share(batches=batches, taken=taken)


_BROUGHT, _KEPT, _TORN = range(3)
"""What reads make of what is remembered for another client: they bring it anew, leave it, or make a part of it old."""


def _state(own: frozenset[Address], brought: frozenset[Address]) -> int:
    return _BROUGHT if own <= brought else _KEPT if own.isdisjoint(brought) else _TORN


def _addresses(reads: Iterable[Batch]) -> frozenset[Address]:
    return frozenset((read.table, read.first + index) for read in reads for index in range(read.count))
