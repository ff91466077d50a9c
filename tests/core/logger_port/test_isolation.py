"""While a commit is at work, the data logger sees the schedule before it or the one after it, and writes before it or after it."""

import asyncio
import struct
from collections import Counter
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from itertools import count
from pathlib import Path
from typing import Any

import pytest

from custom_components.chargehand.core.inverter import CLOCK, SCHEDULE
from custom_components.chargehand.core.modbus import Framing
from custom_components.chargehand.core.registers import Poll, load_map
from tests.bench.remote import Bench
from tests.bench.teasel import CHARGE, RATED_POWER, RESERVE_LEVEL
from tests.benchmarks.rig import FIRST_WINDOW, WINDOW_REGISTERS, registers_of_three_windows, three_windows
from tests.conftest import QUICK
from tests.core.schedule.variants import write_variant
from tests.waiting import until

from .port_rig import Client, Port, client, logger_port, read_pdu
from .serial_order import Operation, State, serial_order

pytestmark = pytest.mark.usefixtures("socket_enabled")

COMMITS = 12
PAUSE_SECONDS = 0.1
"""Between two commits; with none, all that a data logger would see is 06."""

BUSY = 6
"""Exception 06 (Modbus Application Protocol V1.1b3, 7)."""


@asynccontextmanager
async def port_of_singles(bench: Bench, folder: Path, armed: str = "armed", **rules: Any) -> AsyncIterator[Port]:
    """A port before an inverter that takes one register a write, so that a commit has many halves."""
    register_map = load_map(write_variant(f"{armed}_single", folder))
    async with logger_port(bench.port, register_map=register_map, **rules) as port:
        yield port


class History:
    """What everybody did with the registers of three windows, in the order of calls and returns."""

    def __init__(self, port: Port, bench: Bench, patience: float | None = None) -> None:
        self.port = port
        self.bench = bench
        self.patience = patience
        self.operations: list[Operation] = []
        self.ends = Counter[str]()
        self.over = asyncio.Event()
        self._event = count()

    async def commit(self) -> None:
        for turn in range(COMMITS):
            called = next(self._event)
            receipt = (await self.port.inverter.apply(three_windows(turn))).receipt
            assert receipt.outcome in {"confirmed", "unchanged"}
            puts = dict(enumerate(registers_of_three_windows(turn)))
            self._add(called, puts=puts, name=f"commit {turn}")
            await asyncio.sleep(PAUSE_SECONDS)
        self.over.set()

    async def read(self, logger: Client) -> None:
        while not self.over.is_set():
            called = next(self._event)
            answer = await logger.ask(read_pdu("holding", FIRST_WINDOW, WINDOW_REGISTERS))
            if answer[0] & 0x80:
                self.ends[f"read: {answer[1]}"] += 1
                assert answer[1] == BUSY
            else:
                self._add(called, saw=struct.unpack(f">{WINDOW_REGISTERS}H", answer[2:]), name="read")

    async def write(self, logger: Client) -> None:
        for number in count():
            if self.over.is_set():
                return
            # A power, and a power and a level of two windows at once: less than a window, and more than one.
            first, values = (5, (2000 + number,)) if number % 2 else (1, (2000 + number, 80, 330, 520, 3000 + number))
            called, puts = next(self._event), dict(enumerate(values, first))
            try:
                async with asyncio.timeout(self.patience):
                    answer = await logger.write(FIRST_WINDOW + first, *values)
            except TimeoutError:
                self._add(called, puts=puts, name="doubtful", doubtful=True)
                continue
            if answer[0] & 0x80:
                self.ends[f"write: {answer[1]}"] += 1
                assert answer[1] == BUSY
            else:
                self._add(called, puts=puts, name="write")
            await asyncio.sleep(0.03)

    async def poll(self) -> None:
        keys = {*self.port.inverter.map.readings, *self.port.inverter.map.controls, SCHEDULE, CLOCK}
        while not self.over.is_set():
            await self.port.inverter.reader.poll(keys, frozenset(Poll))
            await asyncio.sleep(0.01)

    def _add(
        self,
        called: int,
        *,
        name: str,
        saw: State | None = None,
        puts: dict[int, int] | None = None,
        doubtful: bool = False,
    ) -> None:
        self.ends[name.partition(" ")[0]] += 1
        returned = next(self._event)
        self.operations.append(
            Operation(called=called, returned=returned, saw=saw, puts=puts or {}, name=name, doubtful=doubtful)
        )

    async def run(self, one: Client, other: Client, writer: Client) -> None:
        """Let all of it go on until the commits are over."""
        async with asyncio.TaskGroup() as group:
            for work in (self.commit(), self.read(one), self.read(other), self.write(writer), self.poll()):
                group.create_task(work)

    async def is_serial(self, at_first: State) -> bool:
        """Return whether all of it, and what is there at the end, has a serial order."""
        last = tuple(await self.bench.registers("holding", FIRST_WINDOW, WINDOW_REGISTERS))
        end = next(self._event)
        at_the_end = Operation(called=end, returned=end + 1, saw=last, name="at the end")
        return serial_order([*self.operations, at_the_end], at_first) is not None


@pytest.mark.parametrize("fresh", [0.0, 5.0], ids=["asked", "from memory"])
@pytest.mark.parametrize("armed", ["armed", "bare"])
async def test_commits_and_the_loggers_reads_and_writes_have_a_serial_order(
    bench: Bench, tmp_path: Path, armed: str, fresh: float, record_property: Callable[[str, object], None]
) -> None:
    async with (
        port_of_singles(bench, tmp_path, armed, fresh_seconds=fresh) as port,
        client(port.number) as one,
        client(port.number) as other,
        client(port.number) as writer,
    ):
        at_first = tuple(await bench.registers("holding", FIRST_WINDOW, WINDOW_REGISTERS))
        history = History(port, bench)
        await history.run(one, other, writer)
        print(dict(history.ends), port.counts)
        record_property("cases: operations beside commits", len(history.operations))
        assert history.ends["commit"] == COMMITS
        assert history.ends["read"] > COMMITS
        assert history.ends["write"] > COMMITS / 2
        assert bool(port.counts["from_memory"]) == bool(fresh)
        assert await history.is_serial(at_first)


@pytest.mark.parametrize("framing", [Framing.TCP, Framing.RTU_OVER_TCP])
async def test_they_have_one_too_where_answers_to_writes_are_lost(
    tmp_path: Path, framing: Framing, record_property: Callable[[str, object], None]
) -> None:
    """A write without an answer has happened or not; whatever comes after it agrees on one of the two."""
    async with (
        await Bench.start(**QUICK, framing=str(framing)) as bench,
        port_of_singles(bench, tmp_path, fresh_seconds=5.0, behind=framing) as port,
        client(port.number) as one,
        client(port.number) as other,
        client(port.number) as writer,
    ):
        at_first = tuple(await bench.registers("holding", FIRST_WINDOW, WINDOW_REGISTERS))
        # Every write of the logger names this register, and one write of each commit.
        for nth in range(2, 100, 3):
            kind = ("answer_lost", "no_answer")[nth % 2]
            await bench.fault(kind, nth=nth, only="write", touches=CHARGE[1].power)
        history = History(port, bench, patience=1.0)
        await history.run(one, other, writer)
        print(dict(history.ends), port.counts)
        record_property("cases: operations beside commits", len(history.operations))
        assert history.ends["doubtful"]
        assert port.counts["unanswered"]
        assert await history.is_serial(at_first)


def test_the_search_tells_a_history_that_has_an_order_from_one_that_has_none() -> None:
    """Worked by hand: a write of two registers, and reads beside it and after it."""
    write = Operation(called=0, returned=5, puts={0: 7, 1: 8})

    def read(called: int, returned: int, *saw: int) -> Operation:
        return Operation(called=called, returned=returned, saw=saw)

    assert serial_order([write, read(1, 2, 0, 0), read(3, 4, 7, 8)], (0, 0)) is not None
    assert serial_order([write, read(1, 2, 7, 0)], (0, 0)) is None, "a mixture"
    assert serial_order([write, read(1, 2, 7, 8), read(3, 4, 0, 0)], (0, 0)) is None, "back to what was before"
    assert serial_order([write, read(6, 7, 0, 0)], (0, 0)) is None, "older than a write that has returned"
    lost = Operation(called=0, returned=5, puts={0: 7, 1: 8}, doubtful=True)
    assert serial_order([lost, read(6, 7, 0, 0), read(8, 9, 7, 8)], (0, 0)) is not None, "it came late"
    assert serial_order([lost, read(6, 7, 7, 8), read(8, 9, 0, 0)], (0, 0)) is None, "it came and went"


class AtWork:
    """A commit that waits at its first write until it is let go on."""

    def __init__(self, port: Port) -> None:
        self.begun = asyncio.Event()
        self._go_on = asyncio.Event()
        self._port = port

    @asynccontextmanager
    async def commit(self) -> AsyncIterator[None]:
        """Hold it inside the change."""
        inverter = self._port.inverter
        settled, write = asyncio.Event(), inverter.writer.write

        async def held(*given: object) -> None:
            await write(*given)  # type: ignore[arg-type]
            self.begun.set()
            await settled.wait()

        inverter.writer.write = held  # type: ignore[method-assign]
        task = asyncio.create_task(inverter.apply(three_windows(1)))
        await self.begun.wait()
        try:
            yield
        finally:
            settled.set()
            await task


async def test_what_would_wait_longer_than_the_loggers_patience_is_answered_busy(bench: Bench, tmp_path: Path) -> None:
    async with port_of_singles(bench, tmp_path) as port, client(port.number) as logger:
        async with AtWork(port).commit():
            before = await bench.registers("holding", CHARGE[3].start, 4)
            assert await logger.write(CHARGE[3].power, 1234) == bytes((0x90, BUSY))
            assert await logger.ask(read_pdu("holding", FIRST_WINDOW, 4)) == bytes((0x83, BUSY))
            assert await logger.ask(bytes.fromhex("41 00")) == bytes((0xC1, BUSY)), "it may write anything"
            assert await bench.registers("holding", CHARGE[3].start, 4) == before
            assert await logger.read("holding", RATED_POWER) == (5000,), "what no change writes is read meanwhile"
        assert port.counts["busy"] == 3
        assert (await logger.write(CHARGE[3].power, 1234))[0] == 16
        assert port.wrote[-1].now == {CHARGE[3].power: 1234}


async def test_a_write_that_waited_is_carried_out_once_the_commit_has_ended_even_if_its_client_has_left(
    bench: Bench, tmp_path: Path
) -> None:
    async with port_of_singles(bench, tmp_path) as port, client(port.number) as logger:
        async with AtWork(port).commit():
            waiting = asyncio.create_task(logger.write(RESERVE_LEVEL, 44))
            await asyncio.sleep(0.05)
            assert not waiting.done()
            waiting.cancel()
            logger.leave()
        await port.server.close()
        assert await bench.registers("holding", RESERVE_LEVEL) == [44]
        assert await bench.registers("holding", FIRST_WINDOW, WINDOW_REGISTERS) == registers_of_three_windows(1)


async def test_a_commit_waits_for_a_write_that_is_on_its_way(bench: Bench, tmp_path: Path) -> None:
    """Else it would go by a schedule that is about to be another one."""
    async with port_of_singles(bench, tmp_path) as port, client(port.number) as logger:
        await bench.fault("late", ms=60, only="write")
        writing = asyncio.create_task(logger.write(CHARGE[0].power, 1111))
        await until(port.inverter.changes.lock.locked)
        done = await port.inverter.apply(three_windows(0))
        assert (await writing)[0] == 16
        assert done.before["holding", CHARGE[0].power] == 1111


async def test_a_read_that_a_commit_has_overtaken_is_asked_again_once_it_has_ended(
    bench: Bench, tmp_path: Path
) -> None:
    """It was in the queue before the commit began, behind polls. A commit's requests go first, so it meets half a schedule."""
    async with port_of_singles(bench, tmp_path) as port, client(port.number) as logger, asyncio.TaskGroup() as group:
        before = tuple(await bench.registers("holding", FIRST_WINDOW, WINDOW_REGISTERS))
        await bench.fault("late", ms=60)
        line = port.inverter.line
        polls = [group.create_task(line.read("holding", RATED_POWER, 1)) for _ in range(8)]
        reading = group.create_task(logger.read("holding", FIRST_WINDOW, WINDOW_REGISTERS))
        await until(lambda: port.counts["passed_on"] == 1)
        group.create_task(port.inverter.apply(three_windows(1)))
        assert await reading in {before, tuple(registers_of_three_windows(1))}
        assert port.counts["passed_on"] == 2, "the first answer was no use"
        assert len(await asyncio.gather(*polls)) == 8


async def test_a_logger_that_reads_by_a_function_of_its_maker_hides_no_schedule_from_polls(
    bench: Bench, tmp_path: Path
) -> None:
    """Nobody here can tell whether it writes: no change begins meanwhile, and that is all."""
    async with port_of_singles(bench, tmp_path) as port, client(port.number) as logger:
        over = asyncio.Event()

        async def ask_on() -> None:
            while not over.is_set():
                assert await logger.ask(bytes.fromhex("41 00 07")) == bytes((0xC1, 1))

        async with asyncio.TaskGroup() as group:
            group.create_task(ask_on())
            await until(lambda: port.counts["passed_on"] > 0)
            for _ in range(10):
                polled = await port.inverter.reader.poll({SCHEDULE}, frozenset(Poll))
                assert polled.without_overwritten().image is not None
            assert (await port.inverter.apply(three_windows(1))).receipt.outcome == "confirmed"
            over.set()
        assert port.wrote == [], "and nothing is told of it every second"


async def test_a_poll_beside_a_write_of_the_logger_does_not_show_half_of_it(bench: Bench, tmp_path: Path) -> None:
    async with port_of_singles(bench, tmp_path) as port, client(port.number) as logger:
        await bench.fault("late", ms=60)
        polling = asyncio.create_task(port.inverter.reader.poll({SCHEDULE}, frozenset(Poll)))
        await asyncio.sleep(0.02)
        assert (await logger.write(CHARGE[0].power, 1111))[0] == 16
        assert (await polling).without_overwritten().image is None
