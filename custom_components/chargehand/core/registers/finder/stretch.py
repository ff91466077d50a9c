"""Finding registers: reading a stretch that no map describes yet, and narrowing down what is refused. Reads nothing itself."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from ..register_map import Batch, LineRules, Span, Table

MOST_REGISTERS = 2000
"""Registers of one search: sixteen requests of the longest kind, some six seconds of a 9600-baud line."""

LAST_ADDRESS = 0xFFFF


@dataclass(frozen=True, kw_only=True, slots=True)
class Stretch:
    """`count` registers of a table from `first` on; addresses as on the wire."""

    table: Table
    first: int
    count: int

    @property
    def last(self) -> int:
        """Its last register."""
        return self.first + self.count - 1


@dataclass(frozen=True, kw_only=True, slots=True)
class Unread:
    """Registers from `first` to `last`, both included, that were asked for and not brought, and why."""

    first: int
    last: int
    why: str


@dataclass(kw_only=True, slots=True)
class Search:
    """One walk over a stretch: what to read next, what came, what did not.

    The one who reads asks `next_batch` and says how it went with `came`, `refused` or `gone`, until there is no next.
    """

    stretch: Stretch
    rules: LineRules
    values: dict[int, int] = field(default_factory=dict)
    """What came, by address."""

    _missing: dict[int, str] = field(default_factory=dict, init=False)
    _todo: list[Batch] = field(default_factory=list, init=False)
    _pairs: set[int] = field(default_factory=set, init=False)
    """First registers of the pairs that were asked for as such: some inverters give a long value only whole."""

    def __post_init__(self) -> None:
        """Plan the reads: as long as the inverter takes them, none across what must not be read."""
        self._todo = list(reads(self.stretch, self.rules))[::-1]

    @property
    def next_batch(self) -> Batch | None:
        """What to read now; None when all is known."""
        return self._todo[-1] if self._todo else None

    def came(self, registers: Sequence[int]) -> None:
        """Take a batch that was answered."""
        batch = self._todo.pop()
        for address in range(batch.first, batch.first + batch.count):
            self._missing.pop(address, None)
        self.values |= {batch.first + index: value for index, value in enumerate(registers)}

    def refused(self, why: str) -> None:
        """Take a batch that was refused for what is in it: its halves are tried, down to single registers.

        Where a half ended between the two registers of a long value, they are tried once more together.
        """
        batch = self._todo.pop()
        if batch.first in self._pairs and batch.count == 2:
            return
        if batch.count > 1:
            half = batch.count // 2
            self._todo.append(Batch(batch.table, batch.first + half, batch.count - half))
            self._todo.append(Batch(batch.table, batch.first, half))
            if batch.count == 2:
                self._pairs.add(batch.first)
            return
        self._missing[batch.first] = why
        before = batch.first - 1
        if self._missing.get(before) == why and before not in self._pairs and self.rules.longest_read > 1:
            self._pairs.add(before)
            self._todo.append(Batch(batch.table, before, 2))

    def gone(self, why: str) -> None:
        """Take a batch that failed for another reason than what is in it; nothing of it is tried again."""
        batch = self._todo.pop()
        self._missing |= dict.fromkeys(range(batch.first, batch.first + batch.count), why)

    @property
    def unreadable(self) -> tuple[Unread, ...]:
        """What could not be read, neighbours of the same fate as one."""
        found = [
            Unread(first=first, last=last, why=why)
            for why in set(self._missing.values())
            for first, last in runs(address for address, own in self._missing.items() if own == why)
        ]
        return tuple(sorted(found, key=lambda one: one.first))

    @property
    def never_read(self) -> tuple[Span, ...]:
        """What the map forbids to read, as far as it lies in the stretch."""
        return barred(self.stretch, self.rules)


def barred(stretch: Stretch, rules: LineRules) -> tuple[Span, ...]:
    """Return the parts of a stretch that the map forbids to read, in order."""
    return tuple(
        Span(table=span.table, first=max(span.first, stretch.first), last=min(span.last, stretch.last))
        for span in sorted(rules.no_read, key=lambda span: span.first)
        if span.table is stretch.table and span.first <= stretch.last and stretch.first <= span.last
    )


def reads(stretch: Stretch, rules: LineRules) -> tuple[Batch, ...]:
    """Return the fewest reads that bring all of a stretch that may be read."""
    found: list[Batch] = []
    for first, last in _gaps(stretch, barred(stretch, rules)):
        found += [
            Batch(stretch.table, at, min(rules.longest_read, last - at + 1))
            for at in range(first, last + 1, rules.longest_read)
        ]
    return tuple(found)


def _gaps(stretch: Stretch, spans: Iterable[Span]) -> list[tuple[int, int]]:
    gaps: list[tuple[int, int]] = []
    begin = stretch.first
    for span in spans:
        if span.first > begin:
            gaps.append((begin, span.first - 1))
        begin = max(begin, span.last + 1)
    if begin <= stretch.last:
        gaps.append((begin, stretch.last))
    return gaps


def registers_at(values: Mapping[int, int], first: int, count: int) -> list[int] | None:
    """`count` registers from `first` on; None when one of them was not read."""
    found = [values[address] for address in range(first, first + count) if address in values]
    return found if len(found) == count else None


def runs(addresses: Iterable[int]) -> tuple[tuple[int, int], ...]:
    """First and last of every run of neighbours."""
    found: list[tuple[int, int]] = []
    for address in sorted(addresses):
        if found and found[-1][1] + 1 == address:
            found[-1] = (found[-1][0], address)
        else:
            found.append((address, address))
    return tuple(found)
