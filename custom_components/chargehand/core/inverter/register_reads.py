"""Reading registers of one inverter: in the cheapest batches, and around the registers that it does not have."""

from collections.abc import Callable, Collection, Iterable, Sequence
from datetime import datetime
from functools import lru_cache

from ..modbus import Line, LineCounts, Refused
from ..registers import Address, Batch, LineCost, RegisterMap, batches, spans_of
from .holes import NO_SUCH_REGISTERS, Holes
from .split_read import split_read, within

type Take = Callable[[Batch, tuple[int, ...], datetime], None]
"""Takes the registers of a read, and the moment in the middle of its round trip."""

_known_batches = lru_cache(maxsize=64)(batches)
"""Cached, because every commit needs the same reads."""


class RegisterReads:
    """Reads registers of one inverter. What it does not have is found once, and then left out. Line faults raise LineError."""

    def __init__(self, register_map: RegisterMap, line: Line, now: Callable[[], datetime]) -> None:
        """Set up the reads that a map describes. `now` returns an aware time."""
        self.holes = Holes(register_map, now)
        """Registers that reads leave out, because the inverter does not have them."""

        self._line = line
        self._pause = register_map.line.pause_ms / 1000
        self._now = now
        # The baud rate of an adapter is known; behind a gateway this is the usual one.
        self._cost = LineCost(baud=line.gateway.endpoint.baud)
        self._seconds: dict[Batch, float] = {}
        """Time on the line that each read took last."""

    def batches(self, groups: Iterable[Sequence[Address]]) -> tuple[Batch, ...]:
        """Return the cheapest reads that cover these groups of registers."""
        return _known_batches(tuple(map(tuple, groups)), self.holes.rules, self._cost, refused=self.holes.barred)

    def seconds(self, reads: Collection[Batch]) -> float:
        """Return the time on the line of these reads in seconds, measured as far as possible."""
        # Reads that were never sent are calculated, then corrected by how the measured ones compare with their calculation.
        calculated = sum(self._cost.seconds(batch.count) for batch in self._seconds)
        factor = sum(self._seconds.values()) / calculated if calculated else 1.0
        return sum(self._seconds.get(batch, self._cost.seconds(batch.count) * factor) for batch in reads)

    def calculated_seconds(self, reads: Iterable[Batch]) -> float:
        """Return the time on the line of these reads in seconds as the cheapest ones are calculated: with the pauses, not measured."""
        return sum(self._cost.seconds(batch.count) + self._pause for batch in reads)

    async def look_for(self, address: Address, *, retries: int | None = None) -> bool:
        """Return whether the inverter has a register. That it has none is an answer too, and no error of the line. Raises LineError."""
        batch = Batch(*address, 1)
        try:
            await self._line.read(batch.table, batch.first, 1, retries=retries, answers=NO_SUCH_REGISTERS)
        except Refused as refusal:
            if refusal.code in NO_SUCH_REGISTERS:
                return False
            raise
        self._seconds[batch] = self._line.last_seconds
        return True

    async def read_groups(
        self, groups: Collection[Sequence[Address]], *, urgent: bool = False, counts: LineCounts | None = None
    ) -> dict[Address, int]:
        """Read these groups of registers, and return them by address, with those between. Raises LineError if one cannot be read."""
        raw: dict[Address, int] = {}

        def take(batch: Batch, registers: tuple[int, ...], _at: datetime) -> None:
            raw.update({(batch.table, batch.first + index): value for index, value in enumerate(registers)})

        for batch in self.batches(groups):
            await self.read_around(batch, groups, take, urgent=urgent, counts=counts)
        return raw

    async def read_around(
        self,
        batch: Batch,
        groups: Iterable[Sequence[Address]],
        take: Take,
        *,
        urgent: bool = False,
        counts: LineCounts | None = None,
        retries: int | None = None,
    ) -> None:
        """Send one read of `groups`. If the inverter refuses it, read what exists of it, and remember for all later reads what does not.

        Raises LineError: PointsRefused if some of the groups are refused, after all others were read.
        """

        async def read(part: Batch) -> None:
            started = self._now()
            registers = await self._line.read(
                part.table, part.first, part.count, urgent=urgent, counts=counts, retries=retries
            )
            self._seconds[part] = self._line.last_seconds
            self.holes.answered(part)
            take(part, registers, started + (self._now() - started) / 2)

        async def answers(part: Batch) -> bool:
            try:
                await read(part)
            except Refused as refusal:
                if refusal.code not in NO_SUCH_REGISTERS:
                    raise
                return False
            return True

        try:
            await read(batch)
        except Refused as refusal:
            if refusal.code not in NO_SUCH_REGISTERS:
                raise
            wanted = [span for span in spans_of(groups) if within(span, batch.span)]
            # Nothing is concluded from a split that ends with another error: a busy or silent inverter has no holes.
            found = await split_read(wanted, answers)
            self.holes.learn(found, refusal.code)
            if found.points:
                raise self.holes.refusal(found.points) from refusal
