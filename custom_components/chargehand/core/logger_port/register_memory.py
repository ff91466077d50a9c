"""What was read lately, for answers that cost the line nothing."""

from struct import pack

from ..registers import Batch, Table
from .logger_request import Stretch

MOST_READS = 256
"""Reads that are remembered; the oldest go first."""

type Registers = tuple[int, ...]


class RegisterMemory:
    """Remembers reads whole, until a later one brings any of their registers again, or until something is written.

    So an answer is never put together from two moments inside what the inverter answered at once: the halves of a 32-bit value, of which
    a register map may know only one, stay together. And no register ever goes back to an older value.
    """

    def __init__(self, fresh_seconds: float) -> None:
        """Answer with registers that are not older than so many seconds."""
        self._fresh_seconds = fresh_seconds
        self._reads: dict[str, dict[int, tuple[Registers, float]]] = {str(table): {} for table in Table}
        """By table and first register; none has a register in common with another."""

        self.last: dict[int, int] = {}
        """The value of every holding register as it was read or written last, however long ago."""

        self.answered_at = 0.0
        """When the last read was sent that the inverter has answered, on the event loop's clock."""

    def take_read(self, table: str, first: int, registers: Registers, at: float) -> None:
        """Remember registers that are as they were at `at` or later, on the event loop's clock."""
        self.answered_at = at
        if table == Table.HOLDING:
            self.last.update(zip(range(first, first + len(registers)), registers, strict=True))
        if not self._fresh_seconds:
            return
        reads, end = self._reads[table], first + len(registers)
        for other in [other for other, (held, _) in reads.items() if other < end and other + len(held) > first]:
            del reads[other]
        reads[first] = registers, at
        if len(reads) > MOST_READS:
            del reads[min(reads, key=lambda other: reads[other][1])]

    def take_write(self) -> None:
        """Forget what was read: a write may change more than the registers that it names."""
        for reads in self._reads.values():
            reads.clear()

    def whole(self, read: Batch) -> tuple[Registers, float] | None:
        """Return a read's registers and when it was sent; None if they were not read at once, or some have been read again since."""
        registers, at = self._reads[read.table].get(read.first, ((), 0.0))
        return (registers, at) if len(registers) == read.count else None

    def find(self, wanted: Stretch, now: float) -> bytes | None:
        """Return the data of a read's answer, byte count included; None if any register is not known freshly enough."""
        reads, oldest = self._reads[wanted.table], now - self._fresh_seconds
        found: list[int] = []
        at, end = wanted.first, wanted.first + wanted.count
        if (begin := max((first for first in reads if first <= at), default=None)) is None:
            return None
        while True:
            registers, read_at = reads.get(begin, ((), 0.0))
            if begin + len(registers) <= at or read_at < oldest:
                return None
            found += registers[at - begin : end - begin]
            begin = at = begin + len(registers)
            if at >= end:
                return pack(f">B{len(found)}H", 2 * len(found), *found)
