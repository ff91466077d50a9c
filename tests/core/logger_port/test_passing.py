"""Every request of the data logger reaches the inverter as it stands, and comes back as the inverter answered it."""

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from functools import partial
from itertools import pairwise

import pytest
from pymodbus.client import AsyncModbusTcpClient
from pymodbus.framer import FramerType

from custom_components.chargehand.core.modbus import Framing
from tests.bench.framing import crc, mbap, rtu
from tests.bench.protocol import Entry
from tests.bench.remote import Bench
from tests.bench.teasel import CHARGE, RATED_POWER, RESERVE_LEVEL
from tests.benchmarks.rig import three_windows
from tests.conftest import QUICK
from tests.core.modbus.peers import serving

from .port_rig import client, logger_port, read_pdu, write_pdu

pytestmark = pytest.mark.usefixtures("socket_enabled")

FRAMERS = {Framing.TCP: FramerType.SOCKET, Framing.RTU_OVER_TCP: FramerType.RTU}


@pytest.mark.parametrize("gateway", [Framing.TCP, Framing.RTU_OVER_TCP])
@pytest.mark.parametrize("framing", [Framing.TCP, Framing.RTU_OVER_TCP])
async def test_another_stacks_client_reads_and_writes_as_if_it_asked_the_inverter(
    gateway: Framing, framing: Framing
) -> None:
    """The reference is pymodbus's own client, in both framings on either side."""
    async with (
        await Bench.start(**QUICK, framing=str(gateway)) as bench,
        logger_port(bench.port, behind=gateway, framing=framing) as port,
        AsyncModbusTcpClient("127.0.0.1", port=port.number, framer=FRAMERS[framing]) as logger,
    ):
        serial = await logger.read_input_registers(406, count=8, device_id=1)
        assert serial.registers == await bench.registers("input", 406, 8)
        assert (await logger.read_holding_registers(RATED_POWER, count=1, device_id=1)).registers == [5000]
        assert not (await logger.write_register(RESERVE_LEVEL, 33, device_id=1)).isError()
        assert not (await logger.write_registers(CHARGE[1].start, [130, 1500, 80, 245], device_id=1)).isError()
        assert await bench.registers("holding", RESERVE_LEVEL) == [33]
        assert await bench.registers("holding", CHARGE[1].start, 4) == [130, 1500, 80, 245]
        refused = await logger.read_holding_registers(1, count=1, device_id=1)
        assert refused.exception_code == 2, "as the inverter refuses an address that it does not have"
        assert [entry["function"] for entry in await bench.journal()] == [4, 3, 6, 16, 3]


@pytest.mark.parametrize("code", [1, 4, 5, 6, 10, 11])
async def test_an_exception_comes_back_as_it_is_and_is_not_repeated(bench: Bench, code: int) -> None:
    async with logger_port(bench.port) as port, client(port.number) as logger:
        await bench.fault("exception", code=code)
        assert await logger.ask(read_pdu("holding", RATED_POWER)) == bytes((0x83, code))
        assert await logger.read("holding", RATED_POWER) == (5000,)
        line = port.inverter.line
        now = asyncio.get_running_loop().time()
        assert (line.health.errors(now), line.gateway.health.errors(now)) == (0, 0), "no fault of the line"


async def test_a_silence_comes_back_as_a_silence_and_the_next_request_is_answered(bench: Bench) -> None:
    async with logger_port(bench.port) as port, client(port.number) as logger:
        await bench.fault("no_answer", count=1)
        logger.writer.write(mbap(7, 1, read_pdu("holding", RATED_POWER)))
        logger.writer.write(mbap(8, 1, read_pdu("holding", RESERVE_LEVEL)))
        assert await logger.answer(8) == bytes((3, 2)) + (await bench.registers("holding", RESERVE_LEVEL))[0].to_bytes(
            2
        )
        assert port.counts["unanswered"] == 1


@pytest.mark.parametrize(
    "pdu",
    [bytes.fromhex("41 00 01 02"), bytes.fromhex("2B 0E 01 00"), bytes.fromhex("03 02 BC 00 00"), b"\x10\x02"],
    ids=["a maker's own", "identification", "a read of nothing", "a write cut short"],
)
async def test_a_request_that_nobody_here_knows_reaches_the_inverter_byte_by_byte(pdu: bytes) -> None:
    """The functions' numbers are of the Modbus Application Protocol V1.1b3, 5 and 6.21."""
    seen: list[bytes] = []

    async def inverter(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        while head := await reader.read(7):
            seen.append(await reader.readexactly(int.from_bytes(head[4:6]) - 1))
            writer.write(mbap(int.from_bytes(head[:2]), head[6], seen[-1][:1] + b"\x0e\x83\x00\xffany"))

    async with serving(inverter) as gateway, logger_port(gateway) as port, client(port.number) as logger:
        assert await logger.ask(pdu) == pdu[:1] + b"\x0e\x83\x00\xffany"
        assert seen == [pdu]


@pytest.mark.parametrize("cut", [1, 5, 9])
async def test_on_a_serial_line_an_unknown_functions_answer_ends_where_its_checksum_fits(cut: int) -> None:
    """Nothing else shows its end; it may come in pieces. The checksum is the bench's own."""
    answer = rtu(1, bytes.fromhex("41 0A 01 02 03 04 05 06"))
    seen: list[bytes] = []

    async def inverter(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        seen.append(await reader.read(256))
        writer.write(answer[:cut])
        await asyncio.sleep(0.02)
        writer.write(answer[cut:])

    async with (
        serving(inverter) as gateway,
        logger_port(gateway, behind=Framing.RTU_OVER_TCP, framing=Framing.RTU_OVER_TCP) as port,
        client(port.number) as logger,
    ):
        assert await logger.ask_rtu(bytes.fromhex("41 07"), 8) == answer[1:-2]
        assert seen == [rtu(1, bytes.fromhex("41 07"))]


async def test_a_function_code_of_exceptions_is_not_passed_on(bench: Bench) -> None:
    """Codes from 128 on are reserved for exceptions (Modbus Application Protocol V1.1b3, 4.1)."""
    async with logger_port(bench.port) as port, client(port.number) as logger:
        assert await logger.ask(bytes.fromhex("83 02")) == bytes.fromhex("83 01")
        assert await bench.journal() == []


async def test_only_this_entrys_unit_is_served(bench: Bench) -> None:
    """A gateway answers 0B for a unit that it does not reach (Modbus Application Protocol V1.1b3, 7)."""
    async with logger_port(bench.port) as port, client(port.number) as logger:
        assert await logger.ask(read_pdu("holding", RATED_POWER), unit=2) == bytes((0x83, 11))
        assert await logger.ask(write_pdu(RESERVE_LEVEL, 7), unit=0) == bytes((0x90, 11)), "nor is a broadcast"
        assert await bench.journal() == []


async def test_an_address_that_was_not_named_is_not_served(bench: Bench) -> None:
    async with logger_port(bench.port, hosts=frozenset()) as port, client(port.number) as logger:
        logger.writer.write(mbap(1, 1, read_pdu("holding", RATED_POWER)))
        assert await logger.ended()
        assert await bench.journal() == []
        assert (port.counts["turned_away"], port.server.connected) == (1, 0)


async def test_rtu_frames_may_come_in_pieces_or_together_and_noise_ends_at_a_pause(bench: Bench) -> None:
    async with (
        logger_port(bench.port, framing=Framing.RTU_OVER_TCP) as port,
        client(port.number) as logger,
    ):
        one, other = rtu(1, read_pdu("holding", RATED_POWER)), rtu(1, read_pdu("holding", RESERVE_LEVEL))
        answer = partial(logger.reader.readexactly, 7)
        logger.writer.write(one[:3])
        await asyncio.sleep(0.05)
        logger.writer.write(one[3:] + other)
        assert [await answer(), await answer()] == [rtu(1, b"\x03\x02" + v) for v in (b"\x13\x88", b"\x00\x14")]
        logger.writer.write(b"\x01\x03\x55" + one[:-2] + crc(b"wrong"))
        await asyncio.sleep(0.7)
        logger.writer.write(one)
        assert await answer() == rtu(1, b"\x03\x02\x13\x88")


@asynccontextmanager
async def asking_on(port: int) -> AsyncIterator[None]:
    """Let four clients ask for 60 registers as fast as they are answered."""
    stop = asyncio.Event()

    async def ask_on() -> None:
        async with client(port) as logger:
            while not stop.is_set():
                await logger.read("input", 420, 60)

    async with asyncio.TaskGroup() as clients:
        for _ in range(4):
            clients.create_task(ask_on())
        await asyncio.sleep(0.1)
        yield
        stop.set()


async def test_polls_take_turns_with_a_logger_that_never_pauses_and_a_commits_requests_go_first(bench: Bench) -> None:
    """Many clients have one request on its way to the line at a time."""
    async with logger_port(bench.port) as port:
        async with asking_on(port.number):
            since = len(await bench.journal())
            for _ in range(10):
                await port.inverter.line.read("holding", RATED_POWER, 1)
            polled = (await bench.journal())[since:]
            for _ in range(10):
                await port.inverter.line.read("holding", RATED_POWER, 1, urgent=True)
            committed = (await bench.journal())[since + len(polled) :]
        assert most_between(polled) <= 2, "one was on its way, and one in the queue"
        assert most_between(committed) <= 1, "one was on its way"


async def test_a_commit_has_the_line_to_itself_once_it_is_at_work(bench: Bench) -> None:
    """So that it takes no longer than without a logger; of its reads of other registers one may be on its way when it begins."""
    async with logger_port(bench.port) as port:
        async with asking_on(port.number):
            since = len(await bench.journal())
            await port.inverter.apply(three_windows(0))
            requests = (await bench.journal())[since:]
        wrote = next(at for at, entry in enumerate(requests) if entry["function"] == 16)
        last = max(at for at, entry in enumerate(requests) if entry["function"] == 3)
        assert wrote < last
        assert [
            entry["first"] for entry in requests[wrote:last] if entry["function"] == 4 and entry["count"] == 60
        ] == []


def most_between(requests: list[Entry]) -> int:
    """Return how many of the logger's reads of input registers came between two requests of Chargehand's own, at most."""
    own = [at for at, entry in enumerate(requests) if entry["function"] != 4]
    return max(later - earlier for earlier, later in pairwise(own)) - 1
