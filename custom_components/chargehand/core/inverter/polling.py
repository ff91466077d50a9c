"""How some keys of a map are read, and what their registers say: most of them say what they said the time before."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from itertools import chain, compress, count
from operator import ne

from ..modbus import LineError
from ..registers import Address, Batch, Control, Group, LineCost, Poll, Reading, RegisterMap, batches
from ..schedule import Image, Schedule
from .snapshot import CLOCK, SCHEDULE, ReadingValue


@dataclass(frozen=True, kw_only=True, slots=True)
class Polled:
    """What one poll brought. `missed` are those of the keys `asked` for whose registers could not be read, `failure` why."""

    asked: frozenset[str]
    values: Mapping[str, ReadingValue]
    missed: frozenset[str]
    failure: LineError | None
    schedule: Schedule | None
    image: Image | None
    clock_offset: float | None
    writes: int = 0
    """How many write requests had been sent when the poll began; -1: a change was at work."""


type Place = tuple[Poll, tuple[Group, ...]]
"""How often something is read, and the registers that it needs."""


def places(register_map: RegisterMap) -> dict[str, Place]:
    """Everything of a map that can be polled: readings, controls, SCHEDULE, CLOCK."""
    values: list[Reading | Control] = [*register_map.readings.values(), *register_map.controls.values()]
    found = {value.key: (value.poll, value.point.groups) for value in values}
    if register_map.schedule is not None:
        found[SCHEDULE] = register_map.schedule.poll, register_map.schedule.groups
    if register_map.clock is not None:
        found[CLOCK] = register_map.clock.poll, register_map.clock.point.groups
    return found


class PollPlan:
    """The reads of one kind of poll, with what they brought last."""

    def __init__(
        self, register_map: RegisterMap, keys: Collection[str], rates: Collection[Poll], cost: LineCost
    ) -> None:
        """Plan to read those of `keys` that are read at these rates."""
        groups = {
            key: needed for key, (poll, needed) in sorted(places(register_map).items()) if key in keys and poll in rates
        }
        self.keys = frozenset(groups)
        """What is read."""

        self.batches = batches(chain.from_iterable(groups.values()), register_map.line, cost)
        """The cheapest reads that bring them all."""

        self._silent: list[Batch] = []
        """Those that were not answered when they were asked last."""

        self.raw: dict[Address, int] = {}
        """Every register as read last."""

        at = {(batch.table, batch.first + index): batch for batch in self.batches for index in range(batch.count)}
        addresses = {key: tuple(chain.from_iterable(needed)) for key, needed in groups.items()}
        self._needs = {key: frozenset(at[one] for one in needed) for key, needed in addresses.items()}
        values: dict[str, Reading | Control] = {**register_map.controls, **register_map.readings}
        self._known = {key: values[key] for key in addresses if key in values}
        self._serves: dict[Address, list[str]] = {}
        for key in self._known:
            for address in addresses[key]:
                self._serves.setdefault(address, []).append(key)
        self._read: dict[Batch, tuple[int, ...]] = {}
        self._stale = set[str]()
        self._values: Mapping[str, ReadingValue] = {}

    def brings(self, batch: Batch, key: str) -> bool:
        """Whether a read has registers of a key."""
        return batch in self._needs.get(key, ())

    @property
    def turns(self) -> tuple[Batch, ...]:
        """The reads in the order to ask them: those that were silent last, the latest of them at the very end.

        So registers that never answer keep no others from being read, and a silent inverter is asked another read each time.
        """
        return (*(batch for batch in self.batches if batch not in self._silent), *self._silent)

    def was_silent(self, batch: Batch) -> None:
        """Ask a read after all others from now on, until it is answered."""
        self._silent = [*(other for other in self._silent if other != batch), batch]

    def take(self, batch: Batch, registers: tuple[int, ...]) -> None:
        """Take in what a read brought."""
        if batch in self._silent:
            self._silent.remove(batch)
        before = self._read.get(batch)
        if registers == before:
            return
        self._read[batch] = registers
        new = range(batch.count) if before is None else compress(count(), map(ne, registers, before, strict=True))
        for index in new:
            address = batch.table, batch.first + index
            self.raw[address] = registers[index]
            self._stale.update(self._serves.get(address, ()))

    def missed(self, lost: Collection[Batch]) -> frozenset[str]:
        """The keys that cannot be told without these reads."""
        return frozenset(key for key, needs in self._needs.items() if not needs.isdisjoint(lost))

    def values(self, missed: frozenset[str]) -> Mapping[str, ReadingValue]:
        """What the readings and controls say that are not missed: the same object as before when nothing is new."""
        if fresh := {key: self._known[key].decode(self.raw) for key in self._stale - missed}:
            self._values = {**self._values, **fresh}
            self._stale &= missed
        if not missed:
            return self._values
        return {key: value for key, value in self._values.items() if key not in missed}

    def shows(self, key: str, missed: frozenset[str]) -> bool:
        """Whether a key was read."""
        return key in self._needs and key not in missed
