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
from .process_client import ProcessClient, ProcessServer
from .quick_inverter import make_inverter

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


class CaseBench:
    """A bench in its own process that serves one case at a time."""

    def __init__(self, bench: Bench, folder: Path, process_server: ProcessServer) -> None:
        self.remote = bench
        self.folder = folder
        """For this bench's files alone."""
        self._requests = 0
        self._acted = 0
        self._process_server = process_server
        self._process_client: ProcessClient | None = None

    async def process_client(self) -> ProcessClient:
        """Return this bench's own client of the process server."""
        if self._process_client is None:
            self._process_client = await self._process_server.connect()
        return self._process_client

    async def stop(self) -> None:
        """End its processes."""
        if self._process_client is not None:
            self._process_client.close()
        await self.remote.stop()

    @classmethod
    async def start(cls, folder: Path, process_server: ProcessServer) -> CaseBench:
        """A bench on a line as quick as the bench has it."""
        folder.mkdir()  # noqa: ASYNC240 - once a process
        bench = await Bench.start(baud=921_600, turnaround_ms=0, gateway_timeout_ms=40)
        return cls(bench, folder, process_server)

    async def hold(self, registers: Registers) -> None:
        """Put these registers into memory, without faults from earlier; what was seen before is forgotten."""
        await self.remote.clear_faults()
        # Disarmed in between, so that the way from the last case's end to this one's start is no schedule of either.
        await self.remote.set(CONTROL_WORD, [0])
        for side in (CHARGE, DISCHARGE):
            first = side[0].start
            addresses = range(first, first + WINDOW_REGISTERS * len(side))
            await self.remote.set(first, [registers[address] for address in addresses])
        await self.remote.set(CONTROL_WORD, [registers[CONTROL_WORD]])
        await self.seen()

    async def seen(self) -> Seen:
        """What happened since this was asked last."""
        requests = await self.remote.journal(self._requests)
        acted = await self.remote.acted(self._acted)
        self._requests += len(requests)
        self._acted += len(acted)
        return Seen(requests=requests, acted=acted)

    async def memory(self) -> Registers:
        """The control word and all windows, straight from memory."""
        values = await self.remote.registers("holding", CONTROL_WORD, SCHEDULE[-1] + 1 - CONTROL_WORD)
        found = dict(enumerate(values, CONTROL_WORD))
        return {address: found[address] for address in (CONTROL_WORD, *SCHEDULE)}

    @asynccontextmanager
    async def inverter(self, register_map: RegisterMap, journal: Journal | None) -> AsyncIterator[Inverter]:
        """A new `Inverter` over a new connection, as after a start."""
        gateway = Gateway(Endpoint(host=self.remote.host, port=self.remote.port, framing=Framing.TCP))
        try:
            yield make_inverter(register_map, gateway, journal)
        finally:
            gateway.close()


async def settle(bench: CaseBench, register_map: RegisterMap, entry: Entry) -> tuple[Verdict, Image]:
    """Settle an unfinished commit with nothing ordered to go wrong: where the machine is too slow to answer, the next poll's turn."""
    for left in reversed(range(SETTLE_POLLS)):
        try:
            async with bench.inverter(register_map, None) as inverter:
                verdict, image = await inverter.settle(entry, may_write=True)
        except LineError:
            if not left:
                raise
        else:
            if verdict is not Verdict.MIXTURE or not left:
                return verdict, image
    raise AssertionError


class CaseBenches:
    """Several benches and an event loop of their own, kept from test to test: starting a process costs more than a case."""

    def __init__(self, folder: Path, count: int) -> None:
        self.loop = asyncio.new_event_loop()
        self._folder = folder
        self._count = count
        self._process_server = ProcessServer()
        self._free: asyncio.Queue[CaseBench] | None = None
        self._all: list[CaseBench] = []

    @asynccontextmanager
    async def take(self) -> AsyncIterator[CaseBench]:
        """Yield a bench that nobody else uses."""
        if self._free is None:
            self._free = asyncio.Queue()
            for number in range(self._count):
                bench = await CaseBench.start(self._folder / str(number), self._process_server)
                self._all.append(bench)
                self._free.put_nowait(bench)
        bench = await self._free.get()
        try:
            yield bench
        finally:
            self._free.put_nowait(bench)

    def run(self, work: Callable[[CaseBench], Awaitable[None]]) -> None:
        """Do something with one bench."""

        async def taken() -> None:
            async with self.take() as bench:
                await work(bench)

        self.loop.run_until_complete(taken())

    def close(self) -> None:
        """End all benches."""

        async def stop() -> None:
            for bench in self._all:
                await bench.stop()
            await self._process_server.stop()

        self.loop.run_until_complete(stop())
        self.loop.close()
