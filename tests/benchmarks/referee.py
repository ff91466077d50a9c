"""The least time that a set of values can be read in, worked out without any of Chargehand's code.

A value is a stretch of registers of one table that must come in one read. A read covers up to `longest` registers and none that is
barred. Its time is Modbus over Serial Line V1.02, 2.5.1: 11 bits a character; the request has 8 characters and the answer 5 and 2 a
register; 3.5 characters of silence after each (1.75 ms above 19 200 baud), and the inverter's turnaround.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache

type Stretch = tuple[int, int]
"""First and last register."""

MOST_FOR_BRUTE_FORCE = 11
"""There are 678 570 ways to divide 11 things into groups (Bell number B11)."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Bus:
    """A line and its inverter: speed in baud, turnaround in s, longest read in registers, stretches never read."""

    baud: int = 9600
    turnaround: float = 0.03
    longest: int = 125
    barred: tuple[Stretch, ...] = ()

    def seconds(self, registers: int) -> float:
        """Time of one read."""
        return self._frames(8, 5 + 2 * registers)

    def write_seconds(self, registers: int) -> float:
        """Time of one write with function 16: 9 characters and 2 a register, answered with 8."""
        return self._frames(9 + 2 * registers, 8)

    def _frames(self, request: int, answer: int) -> float:
        character = 11 / self.baud
        silence = 0.00175 if self.baud > 19200 else 3.5 * character
        return (request + answer) * character + 2 * silence + self.turnaround

    def permits(self, read: Stretch) -> bool:
        """Whether one read may bring these registers."""
        first, last = read
        return last - first < self.longest and not any(low <= last and first <= high for low, high in self.barred)

    def cost(self, read: Stretch) -> float:
        """Time of a read; infinite when it may not be."""
        return self.seconds(read[1] - read[0] + 1) if self.permits(read) else math.inf


def least(values: Sequence[Stretch], bus: Bus) -> float:
    """The optimum, in s. The leftmost value not yet brought is where some read begins; every length of that read is tried."""
    if any(last - first >= bus.longest for first, last in values):
        raise ValueError("a value does not fit into one read")

    @cache
    def rest(left: tuple[Stretch, ...]) -> float:
        if not left:
            return 0.0
        first = left[0][0]
        return min(
            bus.cost((first, first + count - 1)) + rest(after)
            for count in range(1, bus.longest + 1)
            if (after := tuple(value for value in left if value[1] > first + count - 1)) != left
        )

    return rest(tuple(sorted(set(values))))


def least_of_all(values: Sequence[Stretch], bus: Bus) -> float | None:
    """The optimum over every way to divide the values into reads, in s; None when there are too many to try them all."""
    stretches = sorted(set(values))
    if stretches and bus.permits((stretches[0][0], stretches[-1][1])):
        # Where all fits into one read, none is forced to be short: dividing neighbours would only add a request.
        stretches = list(_joined(stretches))
    if len(stretches) > MOST_FOR_BRUTE_FORCE:
        return None
    return min(_divisions(stretches, bus, ()))


def _divisions(values: list[Stretch], bus: Bus, reads: tuple[Stretch, ...]) -> Iterator[float]:
    """The time of each way: the next value joins one of the reads so far, or begins a new one."""
    if not values:
        yield sum(bus.cost(read) for read in reads)
        return
    (first, last), rest = values[0], values[1:]
    for at, read in enumerate(reads):
        joined = (min(read[0], first), max(read[1], last))
        yield from _divisions(rest, bus, (*reads[:at], joined, *reads[at + 1 :]))
    yield from _divisions(rest, bus, (*reads, (first, last)))


def _joined(values: Sequence[Stretch]) -> Iterator[Stretch]:
    """Neighbours without a register between them as one; `values` are sorted."""
    first, last = values[0]
    for begin, end in values[1:]:
        if begin > last + 1:
            yield first, last
            first = begin
        last = max(last, end)
    yield first, last


def bound(values: Sequence[Stretch], bus: Bus) -> float:
    """What no batching can beat, in s: each register once, in as few requests as their number permits."""
    registers = len({at for first, last in values for at in range(first, last + 1)})
    requests = math.ceil(registers / bus.longest)
    return requests * bus.seconds(0) + registers * (bus.seconds(1) - bus.seconds(0))
