"""Clients that are slow, many or malicious cost bounded memory, and never a poll or a commit."""

import asyncio
import resource
import socket
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from custom_components.chargehand.core.inverter import CLOCK, SCHEDULE
from custom_components.chargehand.core.logger_port import port_server, request_frames, unanswered
from custom_components.chargehand.core.modbus import Framing, line
from custom_components.chargehand.core.registers import Poll
from tests.bench.framing import mbap, rtu
from tests.bench.remote import Bench
from tests.bench.teasel import RATED_POWER
from tests.benchmarks.rig import three_windows
from tests.core.modbus.peers import open_files
from tests.waiting import until

from .port_rig import Port, client, logger_port, read_pdu

pytestmark = pytest.mark.usefixtures("socket_enabled")

MANY = 10_000
AT_A_TIME = 80
"""Fewer than wait to be accepted: the system drops more, and they try again a second later."""
SOME_FILES = 20
BUSY = bytes((0x83, 6))
"""Exception 06, server device busy (Modbus Application Protocol V1.1b3, 7)."""

SOME_KIB = 30_000
"""More than a thousandth of what 10 000 clients with a buffer of 64 KiB each would take, and less than a twentieth."""


async def works(port: Port) -> None:
    """Poll everything, and commit; nothing may be missed."""
    inverter = port.inverter
    keys = {*inverter.map.readings, *inverter.map.controls, SCHEDULE, CLOCK}
    polled = await inverter.reader.poll(keys, frozenset(Poll))
    assert (polled.missed, polled.failure) == (frozenset(), None)
    for turn in range(2):
        assert (await inverter.apply(three_windows(turn))).receipt.outcome == "confirmed"


async def served(port: Port) -> None:
    """A new client is served at its first try."""
    async with client(port.number) as logger:
        assert await logger.read("holding", RATED_POWER) == (5000,)


async def served_soon(port: Port) -> None:
    """A new client is served once what the others had asked is over; until then the port may say that it is busy."""
    async with client(port.number) as logger:
        answer = BUSY
        while answer == BUSY:
            answer = await logger.ask(read_pdu("holding", RATED_POWER))
        assert answer == bytes((3, 2)) + (5000).to_bytes(2)


async def connect(port: Port) -> socket.socket:
    sock = socket.socket()
    sock.setblocking(False)
    await asyncio.get_running_loop().sock_connect(sock, ("127.0.0.1", port.number))
    return sock


@pytest.mark.parametrize("named", [True, False], ids=["named", "not named"])
async def test_ten_thousand_connections_take_no_more_than_a_few(bench: Bench, named: bool) -> None:
    """They are half open: nothing is sent on them, and nobody closes them."""
    hosts = {} if named else {"hosts": frozenset()}
    async with logger_port(bench.port, **hosts) as port:
        await works(port)
        files, memory = open_files(), resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        opened = 0
        while opened < MANY:
            sockets = await asyncio.gather(*(connect(port) for _ in range(AT_A_TIME)))
            opened += len(sockets)
            assert port.server.connected <= port_server.MOST_CLIENTS
            if opened == MANY // 2:
                await works(port)
            for sock in sockets:
                # Not closed properly: what is left of them is the other end's to find out.
                sock.close()
        await until(lambda: open_files() < files + SOME_FILES)
        assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss < memory + SOME_KIB
        await works(port)
        assert port.counts["turned_away"] == (0 if named else MANY)
        if named:
            await served(port)


async def test_one_more_connection_takes_the_place_of_the_quietest_and_only_of_its_own_address(bench: Bench) -> None:
    async with logger_port(bench.port) as port, client(port.number) as talking:
        await talking.read("holding", RATED_POWER)
        quiet = [await asyncio.open_connection("127.0.0.1", port.number) for _ in range(3)]
        await until(lambda: port.server.connected == 4)
        await talking.read("holding", RATED_POWER)
        await served(port)
        assert await quiet[0][0].read(1) == b""
        assert await talking.read("holding", RATED_POWER) == (5000,), "it has been heard of since"
        for _, writer in quiet:
            writer.close()


async def test_a_frame_that_comes_byte_by_byte_ends_its_connection(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(request_frames, "FRAME_SECONDS", 0.2)
    async with logger_port(bench.port) as port, client(port.number) as slow:
        ended = asyncio.create_task(slow.ended())
        for byte in mbap(1, 1, read_pdu("holding", RATED_POWER)) * 10:
            if ended.done():
                break
            slow.writer.write(bytes((byte,)))
            await asyncio.sleep(0.05)
        assert await ended
        await works(port)
        assert port.counts["passed_on"] == 0


@asynccontextmanager
async def flooding(port: Port, frame: bytes, *, reads: bool) -> AsyncIterator[None]:
    """A client that sends the same frame without end, and takes the answers or does not; it comes again when it was dropped."""

    async def flood() -> None:
        while True:
            reader, writer = await asyncio.open_connection("127.0.0.1", port.number)
            try:
                while not writer.is_closing():
                    writer.write(frame * 50)
                    async with asyncio.timeout(0.05):
                        await (reader.read(65536) if reads else writer.drain())
                    await asyncio.sleep(0)
            except OSError, TimeoutError:
                pass
            finally:
                writer.transport.abort()

    tasks = [asyncio.create_task(flood()) for _ in range(4)]
    try:
        yield
    finally:
        for task in tasks:
            task.cancel()
        await asyncio.wait(tasks)


@pytest.mark.parametrize("reads", [True, False], ids=["reads", "does not read"])
@pytest.mark.parametrize("fresh", [0.0, 60.0], ids=["asked", "from memory"])
async def test_a_flood_of_requests_costs_neither_a_poll_nor_a_commit(bench: Bench, fresh: float, reads: bool) -> None:
    async with logger_port(bench.port, fresh_seconds=fresh) as port:
        memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        async with flooding(port, mbap(1, 1, read_pdu("input", 420, 60)), reads=reads):
            await until(lambda: port.counts["passed_on"] > 0)
            await works(port)
        assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss < memory + SOME_KIB
        await served_soon(port)


async def test_requests_that_the_inverter_never_answers_cost_neither_a_poll_nor_a_commit(bench: Bench) -> None:
    async with logger_port(bench.port) as port, client(port.number) as logger:
        await bench.fault("no_answer", touches=599, count=None)
        for number in range(3):
            logger.writer.write(mbap(number, 1, read_pdu("input", 599)))
        await until(lambda: port.counts["passed_on"] > 0)
        await works(port)
        now = asyncio.get_running_loop().time()
        assert port.inverter.line.gateway.health.errors(now) == 0, "no sign of a second master"


async def test_a_gateways_word_that_the_inverter_is_silent_counts_as_its_silence(bench: Bench) -> None:
    """Exception 0B comes only after the gateway's own time-out, which the line is taken for (Modbus Application Protocol V1.1b3, 7)."""
    async with logger_port(bench.port) as port, client(port.number) as logger:
        await bench.fault("exception", code=11, touches=599, count=None)
        for _ in range(unanswered.TIMES):
            assert await logger.ask(read_pdu("input", 599)) == bytes((0x84, 11))
            assert await logger.read("holding", RATED_POWER) == (5000,)
        logger.writer.write(mbap(0, 1, read_pdu("input", 599)))
        await until(lambda: port.counts["unanswered"] == 1)
        assert len([entry for entry in await bench.journal() if entry["first"] == 599]) <= unanswered.TIMES


async def test_what_the_inverter_leaves_unanswered_again_and_again_is_paused_while_it_answers_others(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(line, "PASSED_TIMEOUT", 0.05)
    async with logger_port(bench.port) as port, client(port.number) as logger:
        await bench.fault("no_answer", touches=599, count=None)
        for number in range(2 * unanswered.TIMES):
            logger.writer.write(mbap(0, 1, read_pdu("input", 599)))
            await until(lambda asked=number: port.counts["unanswered"] == asked + 1)
            assert await logger.read("holding", RATED_POWER) == (5000,)
        asked = [entry for entry in await bench.journal() if entry["first"] == 599]
        assert len(asked) == unanswered.TIMES
        await bench.clear_faults()
        monkeypatch.setattr(unanswered, "PAUSE_SECONDS", 0.0)
        assert len(await logger.read("input", 599)) == 1, "it is tried once more after the pause"


async def test_an_inverter_that_answers_nothing_is_asked_for_everything_until_it_is_back(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(line, "PASSED_TIMEOUT", 0.05)
    async with logger_port(bench.port) as port, client(port.number) as logger:
        assert await logger.read("holding", RATED_POWER) == (5000,)
        await bench.fault("no_answer", count=None)
        for number in range(2 * unanswered.TIMES):
            logger.writer.write(mbap(0, 1, read_pdu("input", 420, 60)))
            await until(lambda asked=number: port.counts["unanswered"] == asked + 1)
        await bench.clear_faults()
        assert len(await logger.read("input", 420, 60)) == 60


@settings(max_examples=40, deadline=None, database=None, suppress_health_check=list(HealthCheck))
@given(
    framing=st.sampled_from([Framing.TCP, Framing.RTU_OVER_TCP]),
    pieces=st.lists(
        st.one_of(
            st.binary(max_size=300),
            st.binary(min_size=1, max_size=253).map(lambda pdu: mbap(9, 1, pdu)),
            st.binary(min_size=1, max_size=253).map(lambda pdu: rtu(1, pdu)),
        ),
        max_size=6,
    ),
)
async def test_any_bytes_leave_the_port_and_the_inverter_as_they_were(
    shared: Bench, framing: Framing, pieces: list[bytes]
) -> None:
    """What is a request by chance is passed on; the bench refuses what is none. Writes are refused, so that none is made by chance."""
    async with logger_port(shared.port, framing=framing, refuses_writes=True) as port:
        async with client(port.number) as strange:
            for piece in pieces:
                strange.writer.write(piece)
                await asyncio.sleep(0)
        async with client(port.number) as logger:
            pdu = read_pdu("holding", RATED_POWER)
            answer = await (logger.ask(pdu) if framing is Framing.TCP else logger.ask_rtu(pdu, 4))
            assert answer == b"\x03\x02\x13\x88"


@pytest.fixture
async def shared(bench: Bench) -> Bench:
    """One bench for all examples."""
    return bench
