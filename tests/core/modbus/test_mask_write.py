"""Function 22 changes bits of one register inside the device (Modbus Application Protocol V1.1b3, 6.16)."""

import asyncio
from collections.abc import AsyncIterator

import pytest

from custom_components.chargehand.core.modbus import Endpoint, Framing, Gateway, Line, LineCounts, NoAnswer, Refused
from tests.bench.remote import Bench
from tests.bench.teasel import CONTROL_WORD, RESERVE_LEVEL
from tests.conftest import QUICK
from tests.core.modbus.test_frames import Recorder

pytestmark = pytest.mark.usefixtures("socket_enabled")


@pytest.fixture(params=["tcp", "rtu_over_tcp"])
async def masking(request: pytest.FixtureRequest) -> AsyncIterator[tuple[Bench, Line]]:
    """Yield a gateway in either framing, to a bench that supports the function."""
    async with await Bench.start(**QUICK, mask_write=True, framing=request.param) as bench:
        gateway = Gateway(Endpoint(host=bench.host, port=bench.port, framing=Framing(request.param)))
        yield bench, Line(gateway, unit=1, timeout_ms=300)
        gateway.close()


async def test_it_is_the_specifications_worked_frame() -> None:
    """Register 5, AND 00F2, OR 0025, answered by the same (frames from memory)."""
    peer = Recorder(bytes.fromhex("16 00 04 00 F2 00 25"))
    server = await asyncio.start_server(peer.serve, "127.0.0.1", 0)
    gateway = Gateway(Endpoint(host="127.0.0.1", port=server.sockets[0].getsockname()[1], framing=Framing.TCP))
    await Line(gateway, unit=17).write_mask(4, 0x00F2, 0x0025)
    assert peer.requests == [bytes.fromhex("16 00 04 00 F2 00 25")]
    gateway.close()
    server.close()


async def test_the_specifications_worked_result(masking: tuple[Bench, Line]) -> None:
    """0012 AND 00F2, OR 0025 where the AND mask has no bit, is 0017 (from memory)."""
    bench, line = masking
    await bench.set(RESERVE_LEVEL, [0x12])
    await line.write_mask(RESERVE_LEVEL, 0x00F2, 0x0025)
    assert await bench.registers("holding", RESERVE_LEVEL) == [0x17]
    assert await line.read("holding", RESERVE_LEVEL, 1) == (0x17,)


async def test_bits_that_another_hand_has_changed_since_they_were_read_stay(masking: tuple[Bench, Line]) -> None:
    bench, line = masking
    counts = LineCounts()
    assert await line.read("holding", CONTROL_WORD, 1) == (0b001,)
    await bench.set(CONTROL_WORD, [0b111])
    await line.write_mask(CONTROL_WORD, 0xFFFE, 0, counts=counts)
    assert await bench.registers("holding", CONTROL_WORD) == [0b110]
    assert (counts.reads, counts.writes, counts.retries) == (0, 1, 0)


async def test_it_is_sent_once_when_its_answer_is_lost(masking: tuple[Bench, Line]) -> None:
    bench, line = masking
    await bench.fault("answer_lost", only="write")
    with pytest.raises(NoAnswer):
        await line.write_mask(CONTROL_WORD, 0xFFFE, 0)
    assert [entry["function"] for entry in await bench.journal()] == [22]
    assert await line.read("holding", CONTROL_WORD, 1) == (0,)


@pytest.mark.parametrize(
    "answer",
    ["16 00 05 00 F2 00 25", "16 00 04 00 F2 00 24", "16 00 04 00 F0 00 25", "16 00 04 00 F2", "06 00 04 00 F2"],
    ids=["another register", "another OR mask", "another AND mask", "half of it", "another function"],
)
async def test_an_answer_that_does_not_repeat_it_is_none(answer: str) -> None:
    peer = Recorder(bytes.fromhex(answer))
    server = await asyncio.start_server(peer.serve, "127.0.0.1", 0)
    gateway = Gateway(Endpoint(host="127.0.0.1", port=server.sockets[0].getsockname()[1], framing=Framing.TCP))
    with pytest.raises(NoAnswer):
        await Line(gateway, unit=17, timeout_ms=300).write_mask(4, 0x00F2, 0x0025)
    gateway.close()
    server.close()


async def test_an_inverter_without_it_refuses_with_01(bench: Bench) -> None:
    gateway = Gateway(Endpoint(host=bench.host, port=bench.port, framing=Framing.TCP))
    with pytest.raises(Refused) as refused:
        await Line(gateway, unit=1).write_mask(CONTROL_WORD, 0xFFFE, 0)
    assert (refused.value.code, refused.value.may_have_acted) == (1, False)
    assert await bench.registers("holding", CONTROL_WORD) == [1]
    gateway.close()


@pytest.mark.parametrize(("and_mask", "or_mask"), [(-1, 0), (0x10000, 0), (0, -1), (0, 0x10000)])
async def test_a_mask_of_more_than_16_bits_is_not_sent(and_mask: int, or_mask: int) -> None:
    line = Line(Gateway(Endpoint(host="127.0.0.1", port=1, framing=Framing.TCP)), unit=1)
    with pytest.raises(ValueError, match="16 bits"):
        await line.write_mask(0, and_mask, or_mask)
