"""What the line itself shows: unsolicited bytes, damaged answers, and what a silent unit costs its neighbours."""

import asyncio
from functools import partial

import pytest

from custom_components.chargehand.core.modbus import Endpoint, Framing, Gateway, Line, LineHealth, NoAnswer
from tests.bench.framing import rtu
from tests.bench.remote import Bench
from tests.bench.teasel import RATED_POWER
from tests.conftest import QUICK
from tests.core.modbus.peers import serving
from tests.waiting import until

pytestmark = pytest.mark.usefixtures("socket_enabled")


async def test_a_second_master_behind_a_transparent_gateway_is_seen_by_unsolicited_bytes() -> None:
    async with await Bench.start(**QUICK, gateway="transparent") as bench:
        gateway = Gateway(Endpoint(host=bench.host, port=bench.port, framing=Framing.RTU_OVER_TCP))
        line = Line(gateway, unit=1, timeout_ms=300)
        loop = asyncio.get_running_loop()
        for _ in range(3):
            await line.read("holding", RATED_POWER, 1)
        await asyncio.sleep(0.2)
        assert gateway.health.unsolicited_bytes(loop.time()) == 0, "alone on the bus"
        await bench.logger(every_s=0.05, count=10)
        await until(partial(_answered, bench, 5))
        await bench.logger(every_s=0)
        answers = (await bench.logger_state())["answers"]
        # 10 registers are 25 bytes: unit, function, count, 20, CRC (Modbus over Serial Line V1.02, 2.5.1).
        await until(lambda: gateway.health.unsolicited_bytes(loop.time()) >= 25 * answers)
        assert gateway.health.unsolicited_bytes(loop.time() + 61) == 0
        gateway.close()


async def _answered(bench: Bench, times: int) -> bool:
    answers: int = (await bench.logger_state())["answers"]
    return answers >= times


async def test_a_wrong_crc_is_counted_and_is_no_answer() -> None:
    async def spoil(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        while request := await reader.read(8):
            answer = bytearray(rtu(1, b"\x03\x02\0\x2a" if request[1] == 3 else request[1:-2]))
            answer[-1] ^= 1
            writer.write(answer)
        writer.close()

    async with serving(spoil) as port:
        gateway = Gateway(Endpoint(host="127.0.0.1", port=port, framing=Framing.RTU_OVER_TCP))
        with pytest.raises(NoAnswer):
            await Line(gateway, unit=1, timeout_ms=100).read("holding", 0, 1, retries=0)
        now = asyncio.get_running_loop().time()
        assert gateway.health.damaged(now) == 1
        assert gateway.health.damaged(now + 61) == 0
        gateway.close()


def test_bytes_that_come_singly_all_day_take_no_more_room_than_a_minutes_seconds() -> None:
    health = LineHealth()
    for tick in range(100_000):
        health.record_unsolicited(tick / 100, 1)
    assert health.unsolicited_bytes(1000.0) == pytest.approx(6000, abs=100)
    assert len(health.unsolicited) <= 62


async def test_a_silent_unit_that_is_only_looked_for_costs_its_neighbour_one_time_out_a_poll() -> None:
    timeout = 0.15
    async with await Bench.start(**QUICK, gateway="transparent", units=(1, 2)) as bench:
        gateway = Gateway(Endpoint(host=bench.host, port=bench.port, framing=Framing.RTU_OVER_TCP))
        first, second = (Line(gateway, unit=unit, timeout_ms=int(timeout * 1000)) for unit in (1, 2))
        await bench.inverter(answers=False, unit=2)
        sent: list[int] = []
        for _ in range(6):
            before = (await bench.stats())["requests"]
            with pytest.raises(NoAnswer):
                await second.read("holding", RATED_POWER, 1, retries=0)
            sent.append((await bench.stats())["requests"] - before)
            for _ in range(3):
                assert await first.read("holding", RATED_POWER, 1) == (5000,)
                await asyncio.sleep(timeout / 2)
        assert sent[0] == 1
        assert max(sent) == 1, "never more than one is sent"
        await bench.inverter(answers=True, unit=2)
        assert await second.read("holding", RATED_POWER, 1, retries=0) == (5000,)
        gateway.close()
