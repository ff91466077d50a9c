"""A late answer is never taken for the next request's, however frames are wrapped and whoever numbers them."""

import asyncio
from collections.abc import AsyncIterator, Sequence
from contextlib import asynccontextmanager

import pytest

from custom_components.chargehand.core.modbus import (
    Endpoint,
    Framing,
    Gateway,
    Line,
    LineCounts,
    NoAnswer,
    NoConnection,
)
from custom_components.chargehand.core.modbus.back_off import FIRST_DELAY
from tests.bench.remote import Bench
from tests.bench.teasel import RATED_POWER, RESERVE_LEVEL
from tests.conftest import QUICK
from tests.core.modbus.peers import SlowLine, slow_line, value_at

FIRST, COUNT = 420, 30
"""Input registers of the bench; each is given a value of its own."""

LATE_MS = [70.0, 260.0]
"""Past the time-out, and past the next ones too."""

TIMEOUT_MS = 60


READS = [150, pytest.param(2000, marks=pytest.mark.long)]


@asynccontextmanager
async def line_to(port: int, framing: Framing, *, timeout_ms: int = TIMEOUT_MS) -> AsyncIterator[Line]:
    gateway = Gateway(Endpoint(host="127.0.0.1", port=port, framing=framing))
    yield Line(gateway, unit=1, timeout_ms=timeout_ms)
    gateway.close()


async def read_all(line: Line, reads: int, lengths: Sequence[int] = (1,)) -> tuple[int, int]:
    """Return how many reads got a wrong answer, and how many got none."""
    wrong, unanswered = 0, 0
    for number in range(reads):
        address, length = FIRST + number % COUNT, lengths[number % len(lengths)]
        try:
            values = await line.read("input", address, length)
        except NoAnswer:
            unanswered += 1
        except NoConnection:
            # A busy machine did not connect within so short a time-out.
            unanswered += 1
            await asyncio.sleep(FIRST_DELAY)
        else:
            wrong += values != tuple(value_at(at) for at in range(address, address + length))
    return wrong, unanswered


@pytest.mark.usefixtures("socket_enabled")
@pytest.mark.timeout(600)
@pytest.mark.parametrize("reads", READS)
@pytest.mark.parametrize(
    ("framing", "options"),
    [
        (Framing.TCP, {}),
        (Framing.RTU_OVER_TCP, {}),
        (Framing.TCP, {"own_transaction_ids": True}),
        (Framing.RTU_OVER_TCP, {"gateway": "transparent"}),
    ],
    ids=["tcp", "rtu_over_tcp", "tcp_with_ids_of_its_own", "transparent"],
)
async def test_no_read_is_ever_answered_with_another_ones_value(
    framing: Framing, options: dict[str, str | bool], reads: int
) -> None:
    async with (
        await Bench.start(**QUICK, **({"framing": framing} if "gateway" not in options else {}), **options) as bench,
        line_to(bench.port, framing) as line,
    ):
        await bench.set(FIRST, [value_at(address) for address in range(FIRST, FIRST + COUNT)], table="input")
        await bench.fault("random_late", share=0.2, ms=LATE_MS)
        wrong, unanswered = await read_all(line, reads)
        late = (await bench.stats())["faults_met"]
    print(f"{reads} reads, {late} late answers, {unanswered} unanswered, {wrong} wrong")
    assert late > reads * 0.1, "the bench was late"
    assert wrong == 0
    assert unanswered < reads * 0.1


@pytest.mark.usefixtures("socket_enabled")
@pytest.mark.timeout(600)
@pytest.mark.parametrize("reads", READS)
@pytest.mark.parametrize(
    ("lengths", "slow", "timeout_ms"),
    [((1, 2, 5), (0.07, 0.2), TIMEOUT_MS), ((20,), (0.07, 0.7), TIMEOUT_MS), ((1,), (0.11, 0.13), 100)],
    ids=["reads that differ", "reads that do not", "single registers"],
)
async def test_a_slow_line_whose_answers_reach_the_next_connection_never_answers_wrong(
    lengths: tuple[int, ...], slow: tuple[float, float], timeout_ms: int, reads: int
) -> None:
    """The greatest lateness handled is as many time-outs as the longest read has registers: here 20 of 60 ms, and at most 0.3 + 0.7 s."""
    async with (
        slow_line(SlowLine(slow_share=0.1, slow=slow)) as peer,
        line_to(peer.port, Framing.RTU_OVER_TCP, timeout_ms=timeout_ms) as line,
    ):
        wrong, unanswered = await read_all(line, reads, lengths)
    print(f"{reads} reads, {peer.late} late answers, {unanswered} unanswered, {wrong} wrong")
    assert peer.late > reads * 0.05
    assert wrong == 0
    assert unanswered < reads * 0.3


async def test_a_gateway_that_comes_to_number_answers_itself_is_noticed_and_served(bench: Bench) -> None:
    async with line_to(bench.port, Framing.TCP, timeout_ms=200) as line:
        assert await line.read("holding", RATED_POWER, 1) == (5000,)
        for own in (True, False, True):
            await bench.gateway(own_transaction_ids=own)
            assert [await line.read("holding", RATED_POWER, 1) for _ in range(5)] == [(5000,)] * 5
        # What it answered under its own ids is taken at once: nothing was asked twice.
        before = len(await bench.journal())
        counts = LineCounts()
        await line.read("holding", RATED_POWER, 1, counts=counts)
        assert (len(await bench.journal()) - before, counts.retries) == (1, 0)


async def test_an_answer_with_a_wrong_id_is_no_answer_to_a_write_and_the_next_read_is_right(bench: Bench) -> None:
    async with line_to(bench.port, Framing.TCP, timeout_ms=200) as line:
        await line.read("holding", RATED_POWER, 1)
        await bench.fault("wrong_id")
        with pytest.raises(NoAnswer):
            await line.write(RESERVE_LEVEL, [42])
        assert await line.read("holding", RESERVE_LEVEL, 1) == (42,)
