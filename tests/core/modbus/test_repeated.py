"""An answer that comes twice, as some gateways send it (common practice, no source): which reads are safe from it, and which cannot be."""

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

import pytest

from custom_components.chargehand.core.modbus import Endpoint, Framing, Gateway, Line, LineCounts, Refused
from tests.bench.remote import Bench
from tests.bench.teasel import RATED_POWER
from tests.conftest import QUICK
from tests.core.modbus.peers import value_at
from tests.pseudo_terminal import adapter_to

pytestmark = pytest.mark.usefixtures("socket_enabled")

FIRST, COUNT = 420, 60
"""Input registers of the bench; each is given a value of its own."""

OTHER = 31
"""How many registers the read takes that looks otherwise."""


@asynccontextmanager
async def over_tcp(**options: str) -> AsyncIterator[tuple[Bench, Line]]:
    async with await Bench.start(**QUICK, **options) as bench:
        gateway = Gateway(Endpoint(host=bench.host, port=bench.port, framing=Framing.RTU_OVER_TCP))
        yield bench, Line(gateway, unit=1, timeout_ms=1000)
        gateway.close()


@asynccontextmanager
async def through_an_adapter() -> AsyncIterator[tuple[Bench, Line]]:
    async with await Bench.start(**QUICK, gateway="transparent") as bench, adapter_to(bench.port) as device:
        gateway = Gateway(Endpoint(device=device, framing=Framing.SERIAL))
        yield bench, Line(gateway, unit=1, timeout_ms=1000)
        gateway.close()


@pytest.fixture(params=["queueing", "transparent", "adapter"])
async def line(request: pytest.FixtureRequest) -> AsyncIterator[tuple[Bench, Line]]:
    """Yield a line of frames without ids, with registers that all hold different values."""
    made = {
        "queueing": lambda: over_tcp(framing="rtu_over_tcp"),
        "transparent": lambda: over_tcp(gateway="transparent"),
        "adapter": through_an_adapter,
    }[request.param]
    async with made() as (bench, line):
        await bench.set(FIRST, [value_at(address) for address in range(FIRST, FIRST + COUNT)], table="input")
        yield bench, line


def right(first: int, count: int) -> tuple[int, ...]:
    return tuple(value_at(at) for at in range(first, first + count))


async def test_an_answer_that_comes_again_at_once_is_dropped_before_the_next_request(
    line: tuple[Bench, Line],
) -> None:
    bench, reader = line
    await bench.fault("repeated", count=None)
    for first in range(FIRST, FIRST + 20):
        assert await reader.read("input", first, 5) == right(first, 5)
    assert reader.gateway.health.repeated == len(await bench.journal())


async def test_an_answer_that_comes_again_in_front_of_one_that_looks_otherwise_is_passed_over(
    line: tuple[Bench, Line],
) -> None:
    bench, reader = line
    await bench.fault("repeated_next", count=None)
    for turn in range(10):
        first = FIRST + turn
        assert await reader.read("input", first, 5) == right(first, 5)
        assert await reader.read("input", first, 6) == right(first, 6)
        assert await reader.read("holding", RATED_POWER, 1) == (5000,)
    assert reader.gateway.health.repeated == 29


async def test_in_front_of_one_that_looks_the_same_nothing_tells_the_two_apart(line: tuple[Bench, Line]) -> None:
    """What the line cannot know, and why a commit's reads are guarded: a poll that meets the first of them is wrong."""
    bench, reader = line
    await bench.fault("repeated_next")
    assert await reader.read("input", FIRST, 5) == right(FIRST, 5)
    assert await reader.read("input", FIRST + 10, 5) == right(FIRST, 5), "no bit of it says that it is the one before"


async def test_an_urgent_read_is_not_answered_by_an_earlier_answer_though_it_looks_the_same(
    line: tuple[Bench, Line],
) -> None:
    bench, reader = line
    assert await reader.read("input", FIRST, OTHER) == right(FIRST, OTHER)
    await bench.fault("repeated_next", count=None)
    counts = LineCounts()
    for first in range(FIRST, FIRST + 10):
        assert await reader.read("input", first, 5, urgent=True, counts=counts) == right(first, 5)
    assert (counts.reads, counts.retries) == (10, 0)
    reads = [(entry["first"], entry["count"]) for entry in await bench.journal()]
    assert [count for _, count in reads].count(5) == 10, "none was asked twice"


async def test_once_an_answer_was_seen_to_come_again_polls_are_guarded_too(line: tuple[Bench, Line]) -> None:
    bench, reader = line
    await bench.fault("repeated_next", count=None)
    assert await reader.read("input", FIRST, 5) == right(FIRST, 5)
    assert await reader.read("input", FIRST, OTHER) == right(FIRST, OTHER)
    assert reader.gateway.health.repeated == 1
    for first in range(FIRST, FIRST + 10):
        assert await reader.read("input", first, 5) == right(first, 5)


async def test_a_refusal_that_comes_again_is_not_the_answer_to_an_urgent_read(line: tuple[Bench, Line]) -> None:
    bench, reader = line
    assert await reader.read("holding", RATED_POWER, 2) == (5000, 1000)
    assert await reader.read("input", FIRST, OTHER) == right(FIRST, OTHER)
    await bench.fault("repeated_next")
    with pytest.raises(Refused):
        await reader.read("input", 590, 20)
    # What is read in between may meet the refusal, or be of another function; either way it is gone.
    assert await reader.read("input", FIRST, 5, urgent=True) == right(FIRST, 5)


async def test_after_a_refusal_that_comes_again_the_read_in_between_does_not_look_like_the_read_itself(
    line: tuple[Bench, Line],
) -> None:
    """The answer to that comes twice as well, and would be taken for the read's."""
    bench, reader = line
    assert await reader.read("input", FIRST, 2) == right(FIRST, 2)
    await bench.fault("repeated_next", count=None)
    for first in range(FIRST, FIRST + 10):
        with pytest.raises(Refused):
            await reader.read("input", 590, 20)
        assert await reader.read("input", first, 1, urgent=True) == right(first, 1)


async def test_where_answers_do_not_look_the_same_an_urgent_read_costs_one_request(line: tuple[Bench, Line]) -> None:
    bench, reader = line
    for count in (5, 6, 5, 6):
        await reader.read("input", FIRST, count, urgent=True)
    assert len(await bench.journal()) == 4


async def test_by_ids_an_urgent_read_costs_one_request(bench: Bench) -> None:
    gateway = Gateway(Endpoint(host=bench.host, port=bench.port, framing=Framing.TCP))
    line = Line(gateway, unit=1)
    for _ in range(4):
        await line.read("input", FIRST, 5, urgent=True)
    assert len(await bench.journal()) == 4
    gateway.close()


async def test_a_unit_of_which_only_one_register_was_ever_read_is_read_without_another_request(
    line: tuple[Bench, Line],
) -> None:
    """There is nothing else to read in between: no guard, and no time-out spent for it either."""
    bench, reader = line
    for _ in range(3):
        assert await reader.read("holding", RATED_POWER, 1, urgent=True) == (5000,)
    assert len(await bench.journal()) == 3
