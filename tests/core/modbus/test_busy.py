"""A read that is answered with 05 or 06 is repeated until the unit is no longer busy; a write is sent only once."""

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from functools import partial

import pytest

from custom_components.chargehand.core.modbus import Endpoint, Framing, Gateway, Line, LineCounts, Refused
from tests.bench.protocol import Entry
from tests.bench.remote import Bench
from tests.bench.teasel import RATED_POWER, RESERVE_LEVEL
from tests.conftest import QUICK
from tests.waiting import until

pytestmark = pytest.mark.usefixtures("socket_enabled")


@asynccontextmanager
async def line_to(bench: Bench, *, unit: int = 1, **options: int) -> AsyncIterator[Line]:
    gateway = Gateway(Endpoint(host=bench.host, port=bench.port, framing=Framing.TCP))
    yield Line(gateway, unit=unit, **options)
    gateway.close()


@pytest.mark.parametrize("code", [5, 6])
async def test_a_read_from_a_busy_unit_is_repeated_and_counted(bench: Bench, code: int) -> None:
    async with line_to(bench) as line:
        await bench.fault("exception", code=code, count=3)
        counts = LineCounts()
        assert await line.read("holding", RATED_POWER, 1, counts=counts) == (5000,)
        assert (counts.reads, counts.retries) == (1, 3)
        assert [entry["answer"] for entry in await bench.journal()] == [f"exception {code}"] * 3 + ["values"]
        now = asyncio.get_running_loop().time()
        assert (line.health.errors(now), line.gateway.health.errors(now)) == (0, 0), "the line did nothing wrong"
        assert line.health.retries == 3


async def test_other_exceptions_are_not_repeated(bench: Bench) -> None:
    async with line_to(bench) as line:
        await bench.fault("exception", code=4)
        with pytest.raises(Refused):
            await line.read("holding", RATED_POWER, 1)
        assert len(await bench.journal()) == 1


async def test_a_unit_that_stays_busy_is_refused_once_the_lines_patience_is_over(bench: Bench) -> None:
    async with line_to(bench, busy_ms=400) as line:
        await bench.fault("exception", code=6, count=None)
        counts = LineCounts()
        with pytest.raises(Refused) as refused:
            await line.read("holding", RATED_POWER, 1, counts=counts)
        assert refused.value.busy
        journal = await bench.journal()
        # Pauses of 0.05, 0.1, 0.2 and what is left of 0.4 s; a busy machine leaves some out.
        assert 2 <= len(journal) <= 6
        assert counts.retries == len(journal) - 1
        assert journal[-1]["at"] - journal[0]["at"] > 0.39
        assert line.health.errors(asyncio.get_running_loop().time()) == 1


async def test_a_line_without_patience_fails_at_once(bench: Bench) -> None:
    async with line_to(bench, busy_ms=0) as line:
        await bench.fault("exception", code=6)
        with pytest.raises(Refused):
            await line.read("holding", RATED_POWER, 1)
        assert len(await bench.journal()) == 1


async def test_a_write_that_meets_a_busy_unit_is_sent_once(bench: Bench) -> None:
    async with line_to(bench) as line:
        await bench.fault("exception", code=6)
        with pytest.raises(Refused):
            await line.write(RESERVE_LEVEL, [42])
        assert len(await bench.journal()) == 1


async def test_the_line_is_free_for_others_while_one_unit_is_busy() -> None:
    async with await Bench.start(**QUICK, units=[1, 2]) as bench, line_to(bench, busy_ms=60_000) as busy:
        other = Line(busy.gateway, unit=2)
        await bench.fault("exception", code=6, unit=1, count=None)
        reading = asyncio.create_task(busy.read("holding", RATED_POWER, 1))
        await until(partial(_has_requests, bench, 2))
        assert await other.read("holding", RATED_POWER, 1) == (5000,)
        assert not reading.done()
        await bench.clear_faults()
        assert await reading == (5000,)


async def _has_requests(bench: Bench, times: int) -> bool:
    return len(await bench.journal()) >= times


async def _requests_of_a_read(bench: Bench, line: Line, *, urgent: bool) -> list[Entry]:
    """Return the requests that one read from a busy unit takes."""
    before = len(await bench.journal())
    with pytest.raises(Refused):
        await line.read("holding", RATED_POWER, 1, urgent=urgent)
    return await bench.journal(since=before)


async def test_a_unit_that_is_busy_for_hours_is_waited_for_once_by_polls_and_by_every_commit(bench: Bench) -> None:
    async with line_to(bench, busy_ms=150) as line:
        await bench.fault("exception", code=6, count=None)
        assert len(await _requests_of_a_read(bench, line, urgent=False)) > 1
        assert len(await _requests_of_a_read(bench, line, urgent=False)) == 1
        assert len(await _requests_of_a_read(bench, line, urgent=True)) > 1
        await bench.clear_faults()
        assert await line.read("holding", RATED_POWER, 1) == (5000,)
        await bench.fault("exception", code=6, count=None)
        assert len(await _requests_of_a_read(bench, line, urgent=False)) > 1, "it was well meanwhile"


async def test_a_caller_that_gives_up_while_the_unit_is_busy_leaves_it_alone(bench: Bench) -> None:
    async with line_to(bench, busy_ms=60_000) as line:
        await bench.fault("exception", code=6, count=None)
        reading = asyncio.create_task(line.read("holding", RATED_POWER, 1))
        await until(partial(_has_requests, bench, 1))
        reading.cancel()
        with pytest.raises(asyncio.CancelledError):
            await reading
        requests = len(await bench.journal())
        # Longer than the longest pause before it would be asked again.
        await asyncio.sleep(0.7)
        assert len(await bench.journal()) <= requests + 1, "one may have been on its way"


@pytest.mark.parametrize("then", ["busy", "deaf"])
async def test_an_inverter_that_is_busy_or_deaf_after_a_write_is_read_back(then: str) -> None:
    """For 50 ms to 3 s (common practice, no source)."""
    async with await Bench.start(**QUICK, gateway="transparent", **{f"{then}_after_write_ms": 250}) as bench:
        gateway = Gateway(Endpoint(host=bench.host, port=bench.port, framing=Framing.RTU_OVER_TCP))
        line = Line(gateway, unit=1, timeout_ms=200)
        await line.write(RESERVE_LEVEL, [42])
        counts = LineCounts()
        assert await line.read("holding", RESERVE_LEVEL, 1, urgent=True, counts=counts) == (42,)
        assert counts.retries > 0
        gateway.close()
