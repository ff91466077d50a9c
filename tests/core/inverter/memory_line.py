"""A line that ends in memory: registers that exist, and a note of every read. Nothing waits, so that thousands of maps can be tried."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from types import SimpleNamespace

from custom_components.chargehand.core.modbus import LineCounts, LineError, Refused

type Register = tuple[str, int]


@dataclass(frozen=True, slots=True)
class Sent:
    """A read that was sent: its registers, and whether they came."""

    table: str
    first: int
    count: int
    answered: bool

    @property
    def registers(self) -> frozenset[Register]:
        """All registers that it asked for."""
        return frozenset((self.table, self.first + index) for index in range(self.count))


@dataclass
class MemoryLine:
    """Answers from `memory`, and refuses a read that touches anything else."""

    memory: Mapping[Register, int]
    code: int = 2
    """The exception for a register that does not exist."""

    longest: int = 125
    """A longer read is refused as well."""

    fails: Callable[[Sent], LineError | None] = lambda _sent: None
    """What a read fails with instead of being answered, if anything."""

    sent: list[Sent] = field(default_factory=list)
    last_seconds: float = 0.05
    gateway: SimpleNamespace = field(default_factory=lambda: SimpleNamespace(endpoint=SimpleNamespace(baud=9600)))

    async def read(
        self,
        table: str,
        first: int,
        count: int,
        *,
        urgent: bool = False,
        counts: LineCounts | None = None,
        retries: int | None = None,
    ) -> tuple[int, ...]:
        """Answer a read."""
        del urgent, counts, retries
        asked = [(str(table), first + index) for index in range(count)]
        there = count <= self.longest and all(register in self.memory for register in asked)
        failure = self.fails(Sent(str(table), first, count, there))
        self.sent.append(Sent(str(table), first, count, there and failure is None))
        if failure is not None:
            raise failure
        if not there:
            raise Refused(self.code)
        return tuple(self.memory[register] for register in asked)

    def take_sent(self) -> list[Sent]:
        """Return what was sent since this was called last."""
        sent, self.sent = self.sent, []
        return sent
