"""The bench's Oxwhistle, by plain requests. Values are worked by hand from its document; its register 403 is 402 on the wire."""

import struct
from collections.abc import AsyncIterator
from datetime import datetime

import pytest
from pymodbus.client import AsyncModbusTcpClient

from tests.bench.remote import Bench
from tests.plain_client import client, holding_code, holdings, input_code, write_one, write_several

pytestmark = pytest.mark.usefixtures("socket_enabled")

QUICK = {
    "inverter": "oxwhistle",
    "baud": 115_200,
    "turnaround_ms": 2,
    # A Saturday.
    "clock": datetime.fromisoformat("2026-01-10T22:00"),
}
ENABLED, TIMES, POWERS, LEVELS, CHARGING, GRID_CURRENT = 829, 830, 840, 850, 860, 870


@pytest.fixture
async def bench(socket_enabled: None) -> AsyncIterator[Bench]:
    async with await Bench.start(**QUICK) as running:
        await running.house(load=500, solar=0)
        yield running


@pytest.fixture
async def modbus(bench: Bench) -> AsyncIterator[AsyncModbusTcpClient]:
    async with client(bench) as plain:
        yield plain


async def at(bench: Bench, time: str, day: str = "2026-01-10") -> str:
    """Which part of the day counts at a moment."""
    await bench.clock(datetime.fromisoformat(f"{day}T{time}"))
    return (await bench.acting())["by"]


async def test_identity_and_readings(bench: Bench, modbus: AsyncModbusTcpClient) -> None:
    """25 degC is 1250, 80 % is open 53.2 V; in part 1 it charges with 3000 W; roof 1 has 55 % of 2000 W."""
    assert struct.pack(">5H", *await holdings(modbus, 10, 5)) == b"OW4-A-0042"
    assert await holdings(modbus, 30) == [2]
    await bench.house(load=0, solar=0)
    await bench.battery(level=80, temperature=25)
    assert await holdings(modbus, 400, 5) == [1250, 5320, 80, 0, 0]
    await at(bench, "01:00")
    power, current = struct.unpack(">hh", struct.pack(">2H", *await holdings(modbus, 403, 2)))
    assert power == -3000, "discharging is positive"
    volts = (await holdings(modbus, 401))[0] / 100
    assert volts * -current / 100 == pytest.approx(3000, abs=5)
    await bench.house(load=500, solar=2000)
    assert await holdings(modbus, 410, 2) == [1100, 900]
    phases = struct.unpack(">3h", struct.pack(">3H", *await holdings(modbus, 420, 3)))
    assert sum(phases) == round(500 - 2000 + 3000 / 0.94) == 1691, "bought is positive"
    assert phases == (846, 507, 338)
    await bench.house(load=0, solar=3000)
    await bench.battery(level=100)
    assert sum(struct.unpack(">3h", struct.pack(">3H", *await holdings(modbus, 420, 3)))) == -3000
    # 92 756 tenths of a kWh are 1 and 27 220, lower 16 bits first.
    assert await holdings(modbus, 430, 2) == [27_220, 1]


async def test_bits_of_the_fault_word_count_from_1(bench: Bench, modbus: AsyncModbusTcpClient) -> None:
    """Lower 16 bits first. Too cold is bit 53, the fifth of the fourth register; too hot is bit 20, the fourth of the second."""
    assert await holdings(modbus, 34, 4) == [0] * 4
    await bench.battery(temperature=-1)
    assert await holdings(modbus, 34, 4) == [0, 0, 0, 1 << 4]
    await bench.battery(temperature=51)
    assert await holdings(modbus, 34, 4) == [0, 1 << 3, 0, 0]
    assert await holdings(modbus, 30) == [3]
    assert await holdings(modbus, 400) == [1510]


async def test_it_knows_functions_3_and_16_alone(modbus: AsyncModbusTcpClient) -> None:
    assert await input_code(modbus, 402) == 1
    assert await write_one(modbus, GRID_CURRENT, 50) == 1
    assert await write_several(modbus, GRID_CURRENT, [50]) == 0
    assert await holding_code(modbus, 402) == 0
    for first, count in ((9, 1), (38, 1), (399, 1), (432, 1), (818, 1), (870, 2)):
        assert await holding_code(modbus, first, count) == 2, first


async def test_what_is_measured_can_be_forced_and_not_written(bench: Bench, modbus: AsyncModbusTcpClient) -> None:
    await bench.set(402, [77], table="input")
    assert await holdings(modbus, 402) == [77]
    assert await write_several(modbus, 402, [50]) == 2
    assert await write_several(modbus, 835, [2100, 0]) == 2, "nothing is between the lists"


async def test_each_part_lasts_until_the_next_and_the_last_over_midnight(bench: Bench) -> None:
    """00:30, 04:30, 07:00, 12:00, 17:00, 21:00."""
    times = ("00:00", "00:29", "00:30", "04:29", "04:30", "11:59", "12:00", "20:59", "21:00", "23:59")
    assert [await at(bench, time) for time in times] == [f"part {n}" for n in (6, 6, 1, 1, 2, 3, 4, 5, 6, 6)]


async def test_a_list_that_begins_at_midnight(bench: Bench, modbus: AsyncModbusTcpClient) -> None:
    assert await write_several(modbus, TIMES, [0, 5, 10, 15, 20, 2355]) == 0
    assert [await at(bench, time) for time in ("00:00", "00:05", "23:54", "23:55")] == [
        f"part {n}" for n in (1, 2, 5, 6)
    ]


@pytest.mark.parametrize(
    "times",
    [
        [30, 430, 700, 700, 1700, 2100],
        [30, 430, 700, 600, 1700, 2100],
        [2100, 30, 430, 700, 1200, 1700],
        [32, 430, 700, 1200, 1700, 2100],
        [30, 430, 700, 1200, 1700, 2400],
        [30, 430, 700, 1200, 1660, 2100],
        [0] * 6,
    ],
)
async def test_a_list_that_does_not_rise_or_is_on_no_step_is_refused(
    modbus: AsyncModbusTcpClient, times: list[int]
) -> None:
    before = await holdings(modbus, TIMES, 6)
    assert await write_several(modbus, TIMES, times) == 3
    assert await holdings(modbus, TIMES, 6) == before


async def test_one_time_has_to_fit_the_others(modbus: AsyncModbusTcpClient) -> None:
    assert await write_several(modbus, TIMES + 2, [430]) == 3
    assert await write_several(modbus, TIMES + 2, [435]) == 0


@pytest.mark.parametrize(
    ("first", "wrong", "right"),
    [
        (POWERS, [4601], [4600]),
        (POWERS, [100, 5000], [0, 100]),
        (LEVELS, [14], [15]),
        (LEVELS + 5, [101], [100]),
        (CHARGING, [4], [3]),
        (GRID_CURRENT, [121], [120]),
        (ENABLED, [0x100], [0xFF]),
        (819, [26 << 8 | 2, 30 << 8], [28 << 8 | 2, 29 << 8]),
    ],
)
async def test_ranges(modbus: AsyncModbusTcpClient, first: int, wrong: list[int], right: list[int]) -> None:
    before = await holdings(modbus, first, len(wrong))
    assert await write_several(modbus, first, wrong) == 3
    if first != 819:
        assert await holdings(modbus, first, len(wrong)) == before
    assert await write_several(modbus, first, right) == 0
    assert (await holdings(modbus, first, len(right))) == right


async def battery_at(bench: Bench, level: float) -> float:
    """Its power at a level, in W, charging is positive."""
    return (await bench.battery(level=level))["battery_w"]


async def test_a_part_that_charges_keeps_its_level_from_both_sides(bench: Bench, modbus: AsyncModbusTcpClient) -> None:
    """3000 W up to 90 %, and down to it for the house's 500 W; a limit of 400 W holds in both directions."""
    await at(bench, "01:00")
    acting = await bench.acting()
    assert (acting["task"], acting["watts"], acting["amps"], acting["until"]) == ("keep_level", 3000, 60, 90)
    assert acting["from_grid"]
    assert await battery_at(bench, 50) == pytest.approx(3000)
    assert await battery_at(bench, 90) == 0
    assert await battery_at(bench, 95) == pytest.approx(-500 / 0.94)
    await bench.house(load=0)
    await bench.battery(level=89)
    await bench.advance(3600)
    assert (await bench.battery())["level"] == pytest.approx(90, abs=0.01)
    await bench.house(load=500)
    assert await write_several(modbus, POWERS, [400]) == 0
    assert await battery_at(bench, 50) == pytest.approx(400)
    assert await battery_at(bench, 95) == pytest.approx(-400)


async def test_a_part_that_does_not_charge_only_keeps_what_is_there(bench: Bench) -> None:
    """Part 6 has a generator's bit, 4600 W and 40 %; the roof fills the battery all the same."""
    assert await battery_at(bench, 30) == 0
    assert await battery_at(bench, 60) == pytest.approx(-500 / 0.94)
    await bench.house(solar=1500)
    assert await battery_at(bench, 30) == pytest.approx(1000 * 0.94)


async def test_the_grid_gives_no_more_than_its_current(bench: Bench, modbus: AsyncModbusTcpClient) -> None:
    """10 A at 52.4 V open and 10 milliohm are 525 W; the roof's surplus is not held by it."""
    await at(bench, "01:00")
    assert await write_several(modbus, GRID_CURRENT, [10]) == 0
    assert await battery_at(bench, 50) == pytest.approx(525)
    await bench.house(solar=1500)
    assert await battery_at(bench, 50) == pytest.approx(1000 * 0.94)


async def test_days_and_the_switch_of_the_list(bench: Bench, modbus: AsyncModbusTcpClient) -> None:
    """Bit 1 is Monday, bit 7 Sunday. Without the list it follows the load down to 15 %."""
    assert await write_several(modbus, ENABLED, [1 | 1 << 6]) == 0
    assert await at(bench, "12:00") == "part 4"
    assert await at(bench, "12:00", "2026-01-11") == ""
    assert await at(bench, "00:10", "2026-01-11") == ""
    assert await battery_at(bench, 16) == pytest.approx(-500 / 0.94, abs=1)
    assert await write_several(modbus, ENABLED, [1 | 1 << 7]) == 0
    assert await at(bench, "12:00", "2026-01-11") == "part 4"
    assert await write_several(modbus, ENABLED, [0xFE]) == 0
    assert (await bench.acting())["by"] == ""
    assert (await bench.acted())[-1]["windows"] == []


async def test_the_clock(bench: Bench, modbus: AsyncModbusTcpClient) -> None:
    """2026-01-10 22:00, then 2027-12-31 23:59:30."""
    assert await holdings(modbus, 819, 2) == [26 << 8 | 1, 10 << 8 | 22]
    assert await write_several(modbus, 819, [27 << 8 | 12, 31 << 8 | 23, 59 << 8 | 30]) == 0
    await bench.advance(31)
    assert await holdings(modbus, 819, 2) == [28 << 8 | 1, 1 << 8]
