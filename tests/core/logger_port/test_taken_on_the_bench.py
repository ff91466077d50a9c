"""Polls beside a data logger on the bench: what they leave out, and what they read themselves whatever the logger reads."""

from collections.abc import AsyncIterator

import pytest

from custom_components.chargehand.core.inverter import CLOCK, SCHEDULE
from custom_components.chargehand.core.inverter.polling import Polled
from custom_components.chargehand.core.registers import Poll
from tests.bench.remote import Bench
from tests.bench.teasel import CHARGE, RESERVE_LEVEL
from tests.benchmarks.rig import three_windows

from .port_rig import Client, Port, client, logger_port

pytestmark = pytest.mark.usefixtures("socket_enabled")

LONG = 3600.0
"""Seconds that no test takes."""

FIRST, COUNT = 400, 100
"""Where the Teasel keeps its readings."""


@pytest.fixture
async def port(bench: Bench) -> AsyncIterator[Port]:
    async with logger_port(bench.port, fresh_seconds=LONG, poll_seconds=5 * LONG) as port:
        yield port


@pytest.fixture
async def logger(port: Port) -> AsyncIterator[Client]:
    async with client(port.number) as logger:
        yield logger


async def poll(port: Port) -> Polled:
    keys = {*port.inverter.map.readings, *port.inverter.map.controls, SCHEDULE, CLOCK}
    polled = await port.inverter.reader.poll(keys, frozenset(Poll))
    assert (polled.failure, polled.missed) == (None, set())
    return polled


async def sent(bench: Bench, since: int) -> list[tuple[int, int, int]]:
    """Return the requests from one on: function, first register, count."""
    return [(entry["function"], entry["first"], entry["count"]) for entry in (await bench.journal())[since:]]


async def reads_of(bench: Bench, port: Port) -> tuple[Polled, list[tuple[int, int, int]]]:
    """Poll, and return what it sent."""
    before = len(await bench.journal())
    polled = await poll(port)
    return polled, await sent(bench, before)


async def test_a_poll_takes_readings_from_the_logger_and_reads_the_rest(
    bench: Bench, port: Port, logger: Client
) -> None:
    usual, every_read = await reads_of(bench, port)
    await logger.read("input", FIRST, COUNT)
    polled, reads = await reads_of(bench, port)
    assert polled.keys == usual.keys
    assert polled.values.keys() == usual.values.keys()
    assert sum(count for function, _, count in reads if function == 4) < sum(
        count for function, _, count in every_read if function == 4
    )
    assert [read for read in reads if read[0] == 3] == [read for read in every_read if read[0] == 3]
    assert polled.image is not None
    assert polled.clock_offset is not None


async def test_schedule_and_controls_are_read_whatever_the_logger_reads(
    bench: Bench, port: Port, logger: Client
) -> None:
    _, every_read = await reads_of(bench, port)
    written = {at for _, at in port.inverter.map.writable}
    kept = [
        (3, first, count)
        for function, first, count in every_read
        if function == 3 and written & {*range(first, first + count)}
    ]
    assert {CHARGE[0].start, RESERVE_LEVEL} <= {at for _, first, count in kept for at in range(first, first + count)}
    for function, first, count in every_read:
        # One register more: the memory would not answer it.
        await logger.read("holding" if function == 3 else "input", first, count + 1)
    assert (await reads_of(bench, port))[1] == kept, "and nothing else"


@pytest.mark.parametrize("by", ["the logger", "a commit"])
async def test_after_a_write_a_poll_reads_everything_itself(bench: Bench, port: Port, logger: Client, by: str) -> None:
    _, every_read = await reads_of(bench, port)
    await logger.read("input", FIRST, COUNT)
    if by == "the logger":
        await logger.write(RESERVE_LEVEL, 41)
    else:
        await port.inverter.apply(three_windows(1))
    assert (await reads_of(bench, port))[1] == every_read


async def test_what_the_logger_reads_while_a_change_is_at_work_is_not_taken(
    bench: Bench, port: Port, logger: Client
) -> None:
    _, every_read = await reads_of(bench, port)
    async with port.inverter.changes.lock:
        await logger.read("input", FIRST, COUNT)
    assert (await reads_of(bench, port))[1] == every_read


async def test_a_poll_beside_a_change_reads_everything_itself(bench: Bench, port: Port, logger: Client) -> None:
    _, every_read = await reads_of(bench, port)
    await logger.read("input", FIRST, COUNT)
    async with port.inverter.changes.lock:
        assert (await reads_of(bench, port))[1] == every_read


async def test_a_poll_after_a_silent_one_reads_everything_itself(bench: Bench, port: Port, logger: Client) -> None:
    keys = port.inverter.map.readings
    before = len(await bench.journal())
    await port.inverter.reader.poll(keys, frozenset(Poll))
    every_read = await sent(bench, before)
    await logger.read("input", FIRST, COUNT)
    before = len(await bench.journal())
    await port.inverter.reader.poll(keys, frozenset(Poll), silent_for=1)
    assert await sent(bench, before) == every_read
