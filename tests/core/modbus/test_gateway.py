"""One connection a gateway: dropped, silent, shared, and given up on."""

import asyncio
import logging
from collections.abc import AsyncIterator
from itertools import pairwise

import pytest

from custom_components.chargehand.core.modbus import (
    Endpoint,
    Framing,
    Gateways,
    Line,
    LineCounts,
    Lost,
    NoAnswer,
    NoConnection,
    Refused,
)
from tests.bench.remote import Bench
from tests.bench.teasel import RATED_CAPACITY, RATED_POWER, RESERVE_LEVEL, SERIAL_NUMBER
from tests.conftest import QUICK
from tests.waiting import until


def endpoint(bench: Bench, framing: Framing = Framing.TCP) -> Endpoint:
    return Endpoint(host=bench.host, port=bench.port, framing=framing)


@pytest.fixture
async def line(bench: Bench) -> AsyncIterator[Line]:
    gateways = Gateways()
    gateway = gateways.take(endpoint(bench))
    yield Line(gateway, unit=1, timeout_ms=300)
    gateways.release(gateway)


async def test_registers_are_what_the_bench_holds(bench: Bench, line: Line) -> None:
    assert list(await line.read("input", SERIAL_NUMBER, 8)) == await bench.registers("input", SERIAL_NUMBER, 8)
    assert list(await line.read("holding", RATED_POWER, 3)) == [5000, 1000, 2]


async def test_a_read_is_sent_again_when_its_answer_is_lost(bench: Bench, line: Line) -> None:
    await bench.fault("answer_lost")
    counts = LineCounts()
    assert (await line.read("holding", RATED_POWER, 1, counts=counts)) == (5000,)
    assert (counts.reads, counts.retries) == (1, 1)


async def test_a_write_is_sent_once(bench: Bench, line: Line) -> None:
    await bench.fault("answer_lost", only="write")
    counts = LineCounts()
    with pytest.raises(NoAnswer):
        await line.write(RESERVE_LEVEL, [42], counts=counts)
    assert counts.writes == 1
    assert await bench.registers("holding", RESERVE_LEVEL) == [42]
    assert len([one for one in await bench.journal() if one["function"] == 16]) == 1


async def test_a_crossing_of_what_is_not_there_is_refused(line: Line) -> None:
    with pytest.raises(Refused) as refused:
        await line.read("input", 590, 20)
    assert refused.value.code == 2
    assert not refused.value.may_have_acted


async def test_a_dropped_connection_fails_at_once_and_the_next_request_connects_anew(bench: Bench, line: Line) -> None:
    await line.read("holding", RATED_POWER, 1)
    await bench.fault("reset")
    with pytest.raises(NoConnection) as lost:
        await line.read("holding", RATED_POWER, 1)
    assert lost.value.lost is Lost.DROPPED
    assert await line.read("holding", RATED_POWER, 1) == (5000,)


async def test_a_gateway_that_is_back_is_found_again(bench: Bench, line: Line) -> None:
    await bench.gateway(down=True)
    for _ in range(2):
        with pytest.raises(NoConnection) as failure:
            await line.read("holding", RATED_POWER, 1)
        assert failure.value.lost is Lost.CANNOT_CONNECT

    async def answers() -> bool:
        try:
            return await line.read("holding", RATED_POWER, 1) == (5000,)
        except NoConnection:
            return False

    await bench.gateway(down=False)
    await until(answers)


async def test_entries_on_one_gateway_share_a_connection(bench: Bench) -> None:
    gateways = Gateways()
    first, second = gateways.take(endpoint(bench)), gateways.take(endpoint(bench))
    assert first is second
    other = gateways.take(endpoint(bench, Framing.RTU_OVER_TCP))
    assert other is not first
    gateways.release(other)
    await Line(first, unit=1).read("holding", RATED_POWER, 1)
    gateways.release(first)
    assert await Line(second, unit=1).read("holding", RATED_POWER, 1) == (5000,), "still open for the second"
    gateways.release(second)
    with pytest.raises(NoConnection):
        await Line(second, unit=1).read("holding", RATED_POWER, 1)


async def test_a_caller_that_gives_up_leaves_no_answer_behind(bench: Bench, line: Line) -> None:
    await line.read("holding", RATED_POWER, 1)
    await bench.fault("late", ms=100)
    asking = asyncio.create_task(line.read("holding", RATED_CAPACITY, 1))
    await asyncio.sleep(0.02)
    asking.cancel()
    with pytest.raises(asyncio.CancelledError):
        await asking
    assert await line.read("holding", RATED_POWER, 1) == (5000,)


async def test_quiet_time_is_kept_between_requests(bench: Bench) -> None:
    gateways = Gateways()
    gateway = gateways.take(endpoint(bench))
    line = Line(gateway, unit=1, pause_ms=150)
    for _ in range(3):
        await line.read("holding", RATED_POWER, 1)
    times = [one["at"] for one in await bench.journal()]
    assert all(later - earlier >= 0.15 for earlier, later in pairwise(times))
    gateways.release(gateway)


async def test_rtu_frames_over_tcp_bring_the_same(socket_enabled: None) -> None:
    async with await Bench.start(**QUICK, framing="rtu_over_tcp") as bench:
        gateways = Gateways()
        gateway = gateways.take(endpoint(bench, Framing.RTU_OVER_TCP))
        line = Line(gateway, unit=1, timeout_ms=300)
        assert list(await line.read("input", SERIAL_NUMBER, 8)) == await bench.registers("input", SERIAL_NUMBER, 8)
        await line.write(RESERVE_LEVEL, [55])
        assert await bench.registers("holding", RESERVE_LEVEL) == [55]
        gateways.release(gateway)


async def test_the_request_after_a_silent_unit_has_time_to_pass_the_gateways_queue(
    socket_enabled: None,
) -> None:
    """The gateway waits 0.5 s for the silent one, Chargehand 0.2 s for either: what is asked next is carried 0.3 s later."""
    async with await Bench.start(**QUICK, units=[1, 2], gateway_timeout_ms=500) as bench:
        await bench.inverter(answers=False, unit=2)
        gateways = Gateways()
        gateway = gateways.take(endpoint(bench))
        present, silent = (Line(gateway, unit=unit, timeout_ms=200) for unit in (1, 2))
        assert await present.read("holding", RATED_POWER, 1) == (5000,)
        for _ in range(3):
            with pytest.raises(NoAnswer):
                await silent.read("holding", RATED_POWER, 1, retries=0)
            assert await present.read("holding", RATED_POWER, 1, retries=0) == (5000,)
        gateways.release(gateway)


async def test_a_silent_line_is_not_logged_here(bench: Bench, line: Line, caplog: pytest.LogCaptureFixture) -> None:
    await bench.fault("no_answer", count=None)
    with caplog.at_level(logging.INFO), pytest.raises(NoAnswer):
        await line.read("holding", RATED_POWER, 1)
    assert not [record for record in caplog.records if record.name.startswith(("pymodbus", "custom_components"))]


async def test_frames_are_logged_at_debug(bench: Bench, line: Line, caplog: pytest.LogCaptureFixture) -> None:
    with caplog.at_level(logging.DEBUG, logger="custom_components.chargehand.core.modbus"):
        await line.read("holding", RATED_POWER, 1)
    sent, came = [text for text in caplog.messages if " < " in text or " > " in text]
    assert sent.startswith(f"{bench.host}:{bench.port} < ")
    assert sent.endswith("00 00 00 06 01 03 03 2c 00 01"), "812 is 0x032c"
    assert came.endswith("00 00 00 05 01 03 02 13 88"), "5000 is 0x1388"


async def test_the_statistics_are_of_the_last_minute(bench: Bench, line: Line) -> None:
    await line.read("holding", RATED_POWER, 1)
    await bench.fault("exception", code=4)
    with pytest.raises(Refused):
        await line.read("holding", RATED_POWER, 1)
    now = asyncio.get_running_loop().time()
    assert line.health.round_trip_ms(now) is not None
    assert line.health.errors(now) == 1
    line.gateway.health.record(now, 6.0, None)
    assert line.gateway.health.busy_percent(now) == pytest.approx(10, abs=0.3), "6 s of the last minute"
    assert line.health.errors(now + 61) == 0
    assert line.health.round_trip_ms(now + 61) is None
