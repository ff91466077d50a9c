"""The inverters on the line, and what a request does to them, faults included."""

import asyncio
import time
from dataclasses import dataclass
from datetime import datetime
from math import inf

from tests.bench.faults import NO_FAULT, Fault, Faults
from tests.bench.inverter import Inverter
from tests.bench.make import Make
from tests.bench.memory import Refused
from tests.bench.protocol import Entry
from tests.bench.request import (
    BUSY,
    READ_HOLDING,
    WRITE_MASK,
    Request,
    exception,
    masked,
    values_answer,
    written_answer,
)
from tests.bench.timebase import Timebase


@dataclass(frozen=True, kw_only=True, slots=True)
class AfterWrite:
    """How an inverter is after a write, in real seconds: deaf first, then answering that it is busy."""

    deaf: float = 0.0
    busy: float = 0.0


class Plant:
    """All units, their common simulated time, and the journal of what reached them."""

    def __init__(
        self,
        *,
        make: Make,
        units: tuple[int, ...],
        start: datetime,
        clock: datetime,
        speed: float,
        seed: int,
        after_write: AfterWrite,
    ) -> None:
        self.time = Timebase(speed)
        self.faults = Faults(seed, overwritable=make.writable - set(make.clock))
        self.journal: list[Entry] = []
        self.units = {unit: Inverter(make=make, unit=unit, start=start, clock=clock) for unit in units}
        self._later: set[asyncio.TimerHandle] = set()
        self._after_write = after_write
        self._written_at: dict[int, float] = {}
        """When each unit was written last, in real time."""

    def unit(self, number: int) -> Inverter:
        """Return a unit, run on to this moment. Raises ValueError for one that is not there."""
        if number not in self.units:
            raise ValueError(f"there is no unit {number}; there are: {', '.join(map(str, self.units))}")
        inverter = self.units[number]
        inverter.run_to(self.time.now())
        return inverter

    def run_on(self) -> None:
        """Run all units on to this moment."""
        for number in self.units:
            self.unit(number)

    def listens(self, unit: int) -> bool:
        """Return whether a unit is there and answers."""
        return unit in self.units and self.units[unit].answers and self._since_write(unit) >= self._after_write.deaf

    def serve(self, request: Request, client: str, fault: Fault) -> bytes:
        """Carry out a request under a fault (the unit listens), note it, and return the answer's PDU."""
        inverter = self.unit(request.unit)
        if not fault.how.reaches:
            answer = exception(request, fault.code)
        elif self._since_write(request.unit) < self._after_write.deaf + self._after_write.busy:
            answer = exception(request, BUSY)
        elif request.refusal:
            answer = exception(request, request.refusal)
        else:
            try:
                answer = self._carry_out(inverter, request, fault)
            except Refused as refused:
                answer = exception(request, refused.code)
        if fault.how.overwrites:
            inverter.write(fault.address, [fault.value])
        self._note(inverter, request, client, fault, answer)
        return answer

    def _carry_out(self, inverter: Inverter, request: Request, fault: Fault) -> bytes:
        if not request.is_write:
            table = "holding" if request.function == READ_HOLDING else "input"
            return values_answer(request, inverter.read(table, request.first, request.count))
        values = list(request.values)
        if request.function == WRITE_MASK and WRITE_MASK in inverter.make.writes:
            values = [masked(value, request.values) for value in inverter.read("holding", request.first, 1)]
        inverter.check(request.function, request.first, values)
        self._written_at[request.unit] = time.monotonic()
        match fault.how.stores:
            case "whole":
                inverter.write(request.first, values)
            case "clamped":
                inverter.write(request.first, [_clamped(value, fault.limit) for value in values])
            case "later":
                self._write_later(request, values, fault.ms / 1000)
            case "nothing":
                pass
        return written_answer(request)

    def _since_write(self, unit: int) -> float:
        return time.monotonic() - self._written_at.get(unit, -inf)

    def _write_later(self, request: Request, values: list[int], seconds: float) -> None:
        def write() -> None:
            self.unit(request.unit).write(request.first, values)
            self._later.discard(handle)

        handle = asyncio.get_running_loop().call_later(seconds, write)
        self._later.add(handle)

    def _note(self, inverter: Inverter, request: Request, client: str, fault: Fault, answer: bytes) -> None:
        kind = f"exception {answer[1]}" if answer[0] & 0x80 else "written" if request.is_write else "values"
        silent = fault.how.answers in {"never", "reset"}
        self.journal.append(
            Entry(
                n=len(self.journal) + 1,
                at=time.monotonic(),
                clock=inverter.clock.read(self.time.now()).isoformat(),
                client=client,
                unit=request.unit,
                function=request.function,
                first=request.first,
                count=request.count,
                values=list(request.values),
                answer="none" if silent else kind,
                fault="" if fault is NO_FAULT else fault.kind,
            )
        )


def _clamped(value: int, limit: int | None) -> int:
    return value // 2 if limit is None else min(value, limit)
