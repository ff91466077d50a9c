"""How to read some keys of a register map, and what their registers mean: at most polls, most registers have not changed."""

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import chain, compress, count
from operator import ne

from ..modbus import LineError
from ..registers import Address, Batch, Control, Group, Poll, Reading, RegisterMap, Span, spans_of
from ..schedule import Image, Schedule
from .change_state import ChangeState
from .reads_of_others import linked
from .snapshot import CLOCK, SCHEDULE, ReadingValue
from .words_apart import WordsApart


@dataclass(frozen=True, kw_only=True, slots=True)
class Polled:
    """The result of one poll. `missed` are those of its `keys` whose registers could not be read, `failure` is why."""

    keys: frozenset[str]
    values: Mapping[str, ReadingValue]
    missed: frozenset[str]
    failure: LineError | None
    schedule: Schedule | None
    image: Image | None
    clock_offset: float | None
    controls: Collection[str]
    """Keys that a change can write."""

    changes: ChangeState
    version: int | None
    """The version of `changes` when the poll began."""

    def without_overwritten(self) -> Polled:
        """Return the result without what a change may have written since the poll began.

        That would be half a schedule, or a control as it was before. Return this same object if no change was at work.
        """
        if self.version is not None and self.version == self.changes.version():
            return self
        values = {key: value for key, value in self.values.items() if key not in self.controls}
        return replace(self, values=values, schedule=None, image=None)


type Place = tuple[Poll, tuple[Group, ...]]
"""How often to read something, and its registers."""


def places(register_map: RegisterMap) -> dict[str, Place]:
    """Return everything in a map that can be polled: readings, controls, SCHEDULE, CLOCK."""
    values: list[Reading | Control] = [*register_map.readings.values(), *register_map.controls.values()]
    found = {value.key: (value.poll, value.point.groups) for value in values}
    if register_map.schedule is not None:
        found[SCHEDULE] = register_map.schedule.poll, register_map.schedule.groups
    if register_map.clock is not None:
        found[CLOCK] = register_map.clock.poll, register_map.clock.point.groups
    return found


def all_groups(register_map: RegisterMap) -> Iterator[tuple[str, tuple[Group, ...]]]:
    """Yield everything that a map describes: its key, and its registers by what comes in one read."""
    yield from ((item.key, item.point.groups) for item in register_map.identity)
    yield from ((key, groups) for key, (_, groups) in places(register_map).items())


class PollPlan:
    """The reads of one kind of poll, with the registers and values that they returned last."""

    def __init__(
        self,
        register_map: RegisterMap,
        keys: Collection[str],
        rates: Collection[Poll],
        batches: Callable[[Iterable[Group]], tuple[Batch, ...]],
        *,
        skipped: Collection[Span],
        apart: Mapping[str, WordsApart],
    ) -> None:
        """Plan the reads for those of `keys` that the map polls at one of `rates`. Keys with `skipped` registers are not read.

        `batches` returns the cheapest reads of some groups. `apart` judges values whose registers come in several reads.
        """
        groups = {
            key: needed for key, (poll, needed) in sorted(places(register_map).items()) if key in keys and poll in rates
        }
        self.keys = frozenset(groups)
        """What the poll is to read."""

        refused = {key: frozenset(spans_of(needed)).intersection(skipped) for key, needed in groups.items()}
        self.refused = {key: spans for key, spans in refused.items() if spans}
        """Of these keys, those that are not read, each with the registers that were refused."""

        groups = {key: needed for key, needed in groups.items() if key not in self.refused}
        self.groups = tuple(chain.from_iterable(groups.values()))
        """All registers that are read, by what comes in one read."""

        self.batches = batches(self.groups)
        """The cheapest reads that cover all registers."""

        self._planned = frozenset(self.batches)
        self._silent: list[Batch] = []
        """Those that got no answer the last time, the latest at the end."""

        self.raw: dict[Address, int] = {}
        """Every register as it was read last."""

        self._cheapest = batches
        self._needed = groups
        addresses = {key: tuple(chain.from_iterable(needed)) for key, needed in groups.items()}
        readings = register_map.readings.keys()
        self.takeable = tuple(one for one in linked(addresses) if one.keys <= readings)
        """What need not come by a read of Chargehand's own: readings that share no register with anything else."""

        self._addresses = addresses
        values: dict[str, Reading | Control] = {**register_map.controls, **register_map.readings}
        self._readings = {key: values[key] for key in addresses if key in values}
        self._keys_at: dict[Address, list[str]] = {}
        for key in self._readings:
            for address in addresses[key]:
                self._keys_at.setdefault(address, []).append(key)
        self._apart = {key: apart[key] for key in self._readings if key in apart}
        self._last_read: dict[Batch, tuple[int, ...]] = {}
        self._stale = set[str]()
        self._values: Mapping[str, ReadingValue] = {}

    def includes(self, batch: Batch, key: str) -> bool:
        """Return whether a read includes registers of a key."""
        return any(
            table is batch.table and 0 <= register - batch.first < batch.count
            for table, register in self._addresses.get(key, ())
        )

    def batches_without(self, keys: Collection[str]) -> tuple[Batch, ...]:
        """Return the cheapest reads that cover the registers of all other keys."""
        needed = (groups for key, groups in self._needed.items() if key not in keys)
        return self._cheapest(tuple(chain.from_iterable(needed)))

    def ordered(self, batches: Collection[Batch]) -> tuple[Batch, ...]:
        """Return reads in the order in which to send them: those that got no answer come last.

        So registers that never answer do not keep others from being read, and a silent inverter gets a different read each time.
        """
        silent = [batch for batch in self._silent if batch in batches]
        return (*(batch for batch in batches if batch not in silent), *silent)

    def record_silent(self, batch: Batch) -> None:
        """Send a read after all others from now on, until it is answered."""
        self._silent = [*(other for other in self._silent if other != batch), batch]

    def record_read(self, batch: Batch, registers: tuple[int, ...]) -> None:
        """Store the registers that a read returned."""
        if batch in self._silent:
            self._silent.remove(batch)
        if batch not in self._planned:
            # A part of a read that was refused: what the whole brought before says no longer what is known.
            self._last_read.clear()
        before = self._last_read.get(batch)
        if registers == before:
            return
        if batch in self._planned:
            self._last_read[batch] = registers
        new = range(batch.count) if before is None else compress(count(), map(ne, registers, before, strict=True))
        for index in new:
            address = batch.table, batch.first + index
            self.raw[address] = registers[index]
            self._stale.update(self._keys_at.get(address, ()))

    def record_taken(self, registers: Mapping[Address, int]) -> None:
        """Store registers that another client has read."""
        for address, value in registers.items():
            if self.raw.get(address) != value:
                self.raw[address] = value
                self._stale.update(self._keys_at.get(address, ()))
                # What a read of Chargehand's own brought before says no longer what is known.
                self._last_read.clear()

    def keys_without(self, read: Iterable[Batch], taken: Collection[Address]) -> frozenset[str]:
        """Return the keys whose registers are not all among those of these reads, or taken."""
        known = {(batch.table, batch.first + index) for batch in read for index in range(batch.count)}.union(taken)
        return frozenset(key for key, addresses in self._addresses.items() if not known.issuperset(addresses))

    def values(self, missed: frozenset[str]) -> Mapping[str, ReadingValue]:
        """Return the values of all readings and controls but those missed; the same object as before if none is new."""
        if fresh := {key: self._readings[key].decode(self.raw) for key in self._stale - missed}:
            self._stale &= missed
            for key in self._apart.keys() & fresh:
                fresh[key] = self._apart[key].believed(fresh[key])
                if self._apart[key].in_doubt:
                    self._stale.add(key)
            self._values = {**self._values, **fresh}
        if not missed:
            return self._values
        return {key: value for key, value in self._values.items() if key not in missed}

    def has_read(self, key: str, missed: frozenset[str]) -> bool:
        """Return whether the poll read a key."""
        return key in self._addresses and key not in missed
