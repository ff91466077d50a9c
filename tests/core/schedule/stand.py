"""A bench that is used for one case after another: put into a state, watched, and looked at straight in its memory."""

import asyncio
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager
from dataclasses import dataclass
from pathlib import Path

from custom_components.chargehand.core.inverter.inverter import Inverter
from custom_components.chargehand.core.modbus import Endpoint, Framing, Gateway, LineError
from custom_components.chargehand.core.registers import RegisterMap
from custom_components.chargehand.core.schedule.image import Image
from custom_components.chargehand.core.schedule.journal import Entry, Journal, Verdict
from tests.bench.protocol import Acted
from tests.bench.protocol import Entry as Request
from tests.bench.remote import Bench
from tests.bench.teasel import CHARGE, CONTROL_WORD, DISCHARGE, SCHEDULE, WINDOW_REGISTERS

from .changes import Registers
from .executioner import Executioner, Executioners
from .impatient import make_inverter

SETTLE_POLLS = 5
"""How often an unfinished commit is looked at before it counts as not settled."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Seen:
    """What happened at the bench: the requests that reached it, and the schedules on which it acted."""

    requests: list[Request]
    acted: list[Acted]

    @property
    def writes(self) -> list[Request]:
        """The requests that write."""
        return [entry for entry in self.requests if entry["function"] in {6, 16}]

    @property
    def fault_met(self) -> bool:
        """Whether an ordered fault bit."""
        return any(entry["fault"] for entry in self.requests)


class Stand:
    """One bench in its own process, one case at a time."""

    def __init__(self, bench: Bench, folder: Path, executioners: Executioners) -> None:
        self.bench = bench
        self.folder = folder
        """For this stand's files alone."""
        self._requests = 0
        self._acted = 0
        self._executioners = executioners
        self._executioner: Executioner | None = None

    async def executioner(self) -> Executioner:
        """This stand's own source of processes to be killed."""
        if self._executioner is None:
            self._executioner = await self._executioners.connect()
        return self._executioner

    async def stop(self) -> None:
        """End its processes."""
        if self._executioner is not None:
            self._executioner.close()
        await self.bench.stop()

    @classmethod
    async def start(cls, folder: Path, executioners: Executioners) -> Stand:
        """A bench on a line as quick as the bench has it."""
        folder.mkdir()  # noqa: ASYNC240 - once a process
        bench = await Bench.start(baud=921_600, turnaround_ms=0, gateway_timeout_ms=40)
        return cls(bench, folder, executioners)

    async def hold(self, registers: Registers) -> None:
        """Put these registers into memory, without faults from earlier; what was seen before is forgotten."""
        await self.bench.clear_faults()
        # Disarmed in between, so that the way from the last case's end to this one's start is no schedule of either.
        await self.bench.set(CONTROL_WORD, [0])
        for side in (CHARGE, DISCHARGE):
            first = side[0].start
            addresses = range(first, first + WINDOW_REGISTERS * len(side))
            await self.bench.set(first, [registers[address] for address in addresses])
        await self.bench.set(CONTROL_WORD, [registers[CONTROL_WORD]])
        await self.seen()

    async def seen(self) -> Seen:
        """What happened since this was asked last."""
        requests = await self.bench.journal(self._requests)
        acted = await self.bench.acted(self._acted)
        self._requests += len(requests)
        self._acted += len(acted)
        return Seen(requests=requests, acted=acted)

    async def memory(self) -> Registers:
        """The control word and all windows, straight from memory."""
        values = await self.bench.registers("holding", CONTROL_WORD, SCHEDULE[-1] + 1 - CONTROL_WORD)
        found = dict(enumerate(values, CONTROL_WORD))
        return {address: found[address] for address in (CONTROL_WORD, *SCHEDULE)}

    @asynccontextmanager
    async def inverter(self, register_map: RegisterMap, journal: Journal | None) -> AsyncIterator[Inverter]:
        """A new `Inverter` over a new connection, as after a start."""
        gateway = Gateway(Endpoint(host=self.bench.host, port=self.bench.port, framing=Framing.TCP))
        try:
            yield make_inverter(register_map, gateway, journal)
        finally:
            gateway.close()


async def settle(stand: Stand, register_map: RegisterMap, entry: Entry) -> tuple[Verdict, Image]:
    """Settle an unfinished commit with nothing ordered to go wrong: where the machine is too slow to answer, the next poll's turn."""
    for left in reversed(range(SETTLE_POLLS)):
        try:
            async with stand.inverter(register_map, None) as inverter:
                verdict, image = await inverter.settle(entry, may_write=True)
        except LineError:
            if not left:
                raise
        else:
            if verdict is not Verdict.MIXTURE or not left:
                return verdict, image
    raise AssertionError


class Stands:
    """Several stands and an event loop of their own, kept from test to test: starting a process costs more than a case."""

    def __init__(self, folder: Path, count: int) -> None:
        self.loop = asyncio.new_event_loop()
        self._folder = folder
        self._count = count
        self._executioners = Executioners()
        self._free: asyncio.Queue[Stand] | None = None
        self._all: list[Stand] = []

    @asynccontextmanager
    async def take(self) -> AsyncIterator[Stand]:
        """A stand that nobody else uses."""
        if self._free is None:
            self._free = asyncio.Queue()
            for number in range(self._count):
                stand = await Stand.start(self._folder / str(number), self._executioners)
                self._all.append(stand)
                self._free.put_nowait(stand)
        stand = await self._free.get()
        try:
            yield stand
        finally:
            self._free.put_nowait(stand)

    def run(self, work: Callable[[Stand], Awaitable[None]]) -> None:
        """Do something with one stand."""

        async def taken() -> None:
            async with self.take() as stand:
                await work(stand)

        self.loop.run_until_complete(taken())

    def close(self) -> None:
        """End all benches."""

        async def stop() -> None:
            for stand in self._all:
                await stand.stop()
            await self._executioners.stop()

        self.loop.run_until_complete(stop())
        self.loop.close()
