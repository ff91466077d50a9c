"""Batches: the reads that cost the line the least time."""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

from .model import LineRules, Span
from .points import Address, Table

CHARACTER_BITS = 11
"""Bits of a character on the line (Modbus over Serial Line V1.02, 2.5.1: start, 8 data, parity, stop)."""

READ_CHARACTERS = 8 + 5
"""Characters of a read that do not depend on its length: the request's 8, the answer's 5."""


def bus_seconds(count: int, *, baud: int = 9600, turnaround: float = 0.03) -> float:
    """Time on the bus of one read of `count` registers, in seconds (Modbus over Serial Line V1.02, 2.5.1).

    Request, answer, a silence of 3.5 characters after each (1.75 ms above 19 200 baud), and the inverter's turnaround.
    """
    character = CHARACTER_BITS / baud
    silence = 0.00175 if baud > 19200 else 3.5 * character
    return (READ_CHARACTERS + 2 * count) * character + 2 * silence + turnaround


@dataclass(frozen=True, kw_only=True, slots=True)
class LineCost:
    """What a read costs on a line: its speed in baud, and how long the inverter takes to turn around, in seconds."""

    baud: int = 9600
    turnaround: float = 0.03

    def seconds(self, count: int) -> float:
        """Bus time of one read of `count` registers."""
        return bus_seconds(count, baud=self.baud, turnaround=self.turnaround)


USUAL_LINE = LineCost()
"""9600 baud is the usual speed; 30 ms lies among the usual 10…100 ms (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Batch:
    """One read: `count` registers of a table from `first` on."""

    table: Table
    first: int
    count: int

    @property
    def span(self) -> Span:
        """Return its registers."""
        return Span(table=self.table, first=self.first, last=self.first + self.count - 1)


@dataclass(frozen=True, slots=True, order=True)
class _Run:
    """Registers from `first` to `last`, both included, that must come in one read."""

    first: int
    last: int


def batches(
    groups: Iterable[Sequence[Address]],
    rules: LineRules,
    cost: LineCost = USUAL_LINE,
    *,
    refused: Collection[Span] = (),
) -> tuple[Batch, ...]:
    """Return the set of reads of least total time that brings every group; exact, by a shortest path over the sorted groups.

    Each group's registers that follow on one another come in one read: a number torn between two reads would be wrong.
    A read spans one table, at most `longest_read` registers and none of `no_read`; the pause after it is part of its time. It
    contains none of `refused` whole, unless that is what has to come in one read. It does not go from one block into the next.
    O(groups × reach). Raises ValueError for a run that no one read can bring; the check of a map finds these.
    """
    runs = _runs(groups)
    found: list[Batch] = []
    for table in Table:
        barred = [span for span in rules.no_read if span.table is table]
        refused_here = [span for span in refused if span.table is table]
        # The last register of a block and the first of the next are never in one read.
        refused_here += [
            Span(table=table, first=start - 1, last=start) for at, start in rules.block_starts if at is table
        ]
        outermost = _outermost(runs[table])
        for run in outermost:
            if run.last - run.first >= rules.longest_read:
                raise ValueError(f"registers {run.first} to {run.last} are more than one read brings")
        path = _cheapest(outermost, rules, barred, refused_here, cost)
        found += [Batch(table, read.first, read.last - read.first + 1) for read in path]
    return tuple(found)


def spans_of(groups: Iterable[Sequence[Address]]) -> tuple[Span, ...]:
    """Return the registers that must come in one read, for each table in order."""
    return tuple(
        Span(table=table, first=run.first, last=run.last)
        for table, runs in _runs(groups).items()
        for run in sorted(set(runs))
    )


def _runs(groups: Iterable[Sequence[Address]]) -> dict[Table, list[_Run]]:
    runs: dict[Table, list[_Run]] = {table: [] for table in Table}
    for group in groups:
        for table in Table:
            own = sorted({address for own_table, address in group if own_table is table})
            start = 0
            for index, address in enumerate(own):
                if index + 1 == len(own) or own[index + 1] != address + 1:
                    runs[table].append(_Run(own[start], address))
                    start = index + 1
    return runs


def _outermost(runs: Iterable[_Run]) -> list[_Run]:
    """Return the runs in order, without those that another brings as well: first and last registers both rise from one to the next."""
    kept: list[_Run] = []
    for run in sorted(runs, key=lambda run: (run.first, -run.last)):
        if not kept or run.last > kept[-1].last:
            kept.append(run)
    return kept


def _cheapest(
    runs: Sequence[_Run], rules: LineRules, barred: Sequence[Span], refused: Sequence[Span], cost: LineCost
) -> list[_Run]:
    """Shortest path: `spent[i]` is the least time that brings the first i runs, `begins[i]` where its last read begins."""
    each = cost.seconds(0) + rules.pause_ms / 1000
    register = cost.seconds(1) - cost.seconds(0)
    spent, begins = [0.0], [0]
    for end, run in enumerate(runs, start=1):
        best, best_begin = float("inf"), end - 1
        for begin in range(end - 1, -1, -1):
            read = _Run(runs[begin].first, run.last)
            count = read.last - read.first + 1
            if begin < end - 1 and (count > rules.longest_read or _crosses(read, barred) or _contains(read, refused)):
                break
            time = spent[begin] + each + register * count
            if time < best:
                best, best_begin = time, begin
        spent.append(best)
        begins.append(best_begin)
    path: list[_Run] = []
    end = len(runs)
    while end:
        path.append(_Run(runs[begins[end]].first, runs[end - 1].last))
        end = begins[end]
    return path[::-1]


def _crosses(read: _Run, barred: Iterable[Span]) -> bool:
    return any(span.first <= read.last and read.first <= span.last for span in barred)


def _contains(read: _Run, refused: Iterable[Span]) -> bool:
    return any(read.first <= span.first and span.last <= read.last for span in refused)
