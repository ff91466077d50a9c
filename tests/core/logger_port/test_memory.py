"""What was read lately is answered from memory: never older than told, never put together from two moments within one answer."""

import asyncio
import struct

import pytest
from hypothesis import given
from hypothesis import strategies as st

from custom_components.chargehand.core.logger_port.logger_request import Stretch
from custom_components.chargehand.core.logger_port.register_memory import RegisterMemory
from custom_components.chargehand.core.registers import Table
from tests.bench.remote import Bench
from tests.bench.teasel import RATED_POWER, RESERVE_LEVEL

from .port_rig import client, logger_port

pytestmark = pytest.mark.usefixtures("socket_enabled")

LONG = 3600.0
"""Seconds that no test takes."""

FRESH = 2.0


async def requests(bench: Bench) -> int:
    return len(await bench.journal())


async def test_a_second_read_and_a_second_client_cost_the_bus_nothing(bench: Bench) -> None:
    async with (
        logger_port(bench.port, fresh_seconds=LONG) as port,
        client(port.number) as one,
        client(port.number) as other,
    ):
        first = await one.read("input", 420, 60)
        assert await one.read("input", 420, 60) == first
        assert await other.read("input", 430, 20) == first[10:30], "part of what was read"
        assert await requests(bench) == 1
        assert port.counts["from_memory"] == 2


async def test_clients_that_ask_at_the_same_time_share_one_request(bench: Bench) -> None:
    async with logger_port(bench.port, fresh_seconds=LONG) as port:
        await bench.fault("late", ms=50)

        async def ask() -> tuple[int, ...]:
            async with client(port.number) as logger:
                return await logger.read("input", 420, 60)

        answers = await asyncio.gather(*(ask() for _ in range(4)))
        assert len(set(answers)) == 1
        assert await requests(bench) == 1


async def test_what_chargehand_itself_reads_is_remembered_too(bench: Bench) -> None:
    async with logger_port(bench.port, fresh_seconds=LONG) as port, client(port.number) as logger:
        line = port.inverter.line
        await line.read("holding", RATED_POWER, 1)
        assert await logger.read("holding", RATED_POWER) == (5000,)
        assert await line.read("input", 420, 30) + await line.read("input", 450, 30) == await logger.read(
            "input", 420, 60
        )
        assert await requests(bench) == 3
        assert (await logger.read("input", 420, 61))[:1]
        assert await requests(bench) == 4, "one register more than was read"


async def test_the_two_tables_are_not_confused(bench: Bench) -> None:
    async with logger_port(bench.port, fresh_seconds=LONG) as port, client(port.number) as logger:
        await port.inverter.line.read("holding", RATED_POWER, 1)
        await bench.fault("exception", code=2)
        assert (await logger.ask(bytes.fromhex("04") + struct.pack(">HH", RATED_POWER, 1))) == b"\x84\x02"


async def test_without_a_time_every_request_is_asked(bench: Bench) -> None:
    async with logger_port(bench.port, fresh_seconds=0.0) as port, client(port.number) as logger:
        for _ in range(3):
            await logger.read("input", 420, 60)
        assert await requests(bench) == 3


@pytest.mark.parametrize("by", ["the logger", "the logger, refused", "Chargehand"])
async def test_after_any_write_everything_is_asked_again(bench: Bench, by: str) -> None:
    """It may change more registers than it names."""
    async with logger_port(bench.port, fresh_seconds=LONG) as port, client(port.number) as logger:
        await logger.read("input", 420, 60)
        match by:
            case "the logger":
                assert (await logger.write(RESERVE_LEVEL, 41))[0] == 16
            case "the logger, refused":
                assert (await logger.write(RATED_POWER, 1))[0] == 0x90
            case _:
                await port.inverter.line.write(RESERVE_LEVEL, [41])
        await logger.read("input", 420, 60)
        assert await requests(bench) == 3


async def test_an_exception_is_not_remembered(bench: Bench) -> None:
    async with logger_port(bench.port, fresh_seconds=LONG) as port, client(port.number) as logger:
        await bench.fault("exception", code=4)
        assert (await logger.ask(bytes.fromhex("03") + struct.pack(">HH", RATED_POWER, 1))) == b"\x83\x04"
        assert await logger.read("holding", RATED_POWER) == (5000,)


type Read = tuple[int, int]
"""A read: its first register and its number of registers."""

reads = st.lists(st.tuples(st.integers(0, 20), st.integers(1, 8)), max_size=12)


@given(done=reads, wanted=st.tuples(st.integers(0, 20), st.integers(1, 12)))
def test_an_answer_is_never_put_together_inside_what_was_read_at_once(done: list[Read], wanted: Read) -> None:
    """Every register's value is the number of the read that brought it, and the reads are a second apart."""
    memory = RegisterMemory(LONG)
    for number, (first, count) in enumerate(done):
        memory.take_read("input", first, (number,) * count, float(number))
    first, count = wanted
    answer = memory.find(Stretch(table=Table.INPUT, first=first, count=count), float(len(done)))
    if answer is None:
        return
    assert answer[0] == 2 * count == len(answer) - 1
    values = struct.unpack(f">{count}H", answer[1:])
    for place, number in enumerate(values):
        at = first + place
        covering = [late for late, (begin, width) in enumerate(done) if begin <= at < begin + width]
        assert number == covering[-1], "the value that was read last"
        begin, width = done[number]
        within = range(max(begin, first), min(begin + width, first + count))
        assert all(values[other - first] == number for other in within), "and all that came with it"


@given(ages=st.lists(st.floats(0, 4), min_size=1, max_size=4))
def test_no_register_is_older_than_told(ages: list[float]) -> None:
    """Reads side by side, each of its own age."""
    memory, now = RegisterMemory(FRESH), 100.0
    for place, age in enumerate(ages):
        memory.take_read("holding", place * 5, (place,) * 5, now - age)
    found = memory.find(Stretch(table=Table.HOLDING, first=0, count=5 * len(ages)), now)
    assert (found is not None) == (max(ages) <= FRESH)


async def test_an_answers_age_counts_from_when_it_was_asked_for(bench: Bench) -> None:
    """The inverter may have looked at its registers at once, and answered late."""
    async with logger_port(bench.port, fresh_seconds=0.2) as port, client(port.number) as logger:
        await bench.fault("late", ms=250)
        await logger.read("input", 420, 60)
        await logger.read("input", 420, 60)
        assert await requests(bench) == 2
