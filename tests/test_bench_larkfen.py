"""The bench's Larkfen, by plain requests. Addresses and values are worked by hand from the document: register 30340 is input 339 on the wire."""

import struct
from collections.abc import AsyncIterator
from datetime import datetime
from functools import partial

import pytest
from pymodbus.client import AsyncModbusTcpClient

from tests.bench.remote import Bench
from tests.plain_client import client, holding_code, holdings, input_code, inputs, write_one, write_several
from tests.waiting import until

pytestmark = pytest.mark.usefixtures("socket_enabled")

QUICK = {
    "inverter": "larkfen",
    "baud": 115_200,
    "turnaround_ms": 2,
    "clock": datetime.fromisoformat("2026-01-10T22:00"),
}
ENABLE, COMMAND = 709, 789
AT_START = 0b1001_0011_0110
"""Feed-in limit, charge 1, discharge 1, buzzer, grid charge, and bit 11, which is foreign."""


@pytest.fixture
async def bench(socket_enabled: None) -> AsyncIterator[Bench]:
    async with await Bench.start(**QUICK) as running:
        yield running


@pytest.fixture
async def modbus(bench: Bench) -> AsyncIterator[AsyncModbusTcpClient]:
    async with client(bench) as plain:
        yield plain


def signed(words: list[int]) -> int:
    """A value of two registers, high word first."""
    value: int = struct.unpack(">i", struct.pack(">HH", *words))[0]
    return value


async def test_identity_and_readings(bench: Bench, modbus: AsyncModbusTcpClient) -> None:
    """At 01:00 it charges with 60 % of 5000 W; the house takes 500 W, the roof gives 300 W."""
    await bench.house(load=500, solar=300)
    await bench.battery(level=43.6, temperature=-2.5)
    assert await inputs(modbus, 0, 9) == [0x0C5A, *struct.unpack(">8H", b"LF5-AM-2611-0042")]
    assert await inputs(modbus, 310) == [2]
    assert await inputs(modbus, 339, 2) == [44, 96]
    assert await inputs(modbus, 345) == [0xFFE7], "-25 tenths"
    assert await inputs(modbus, 400, 4) == [0, 1 << 10, 0, 0], "too cold"
    await bench.battery(temperature=20)
    await bench.advance(3 * 3600)
    state = await bench.battery(level=50)
    assert state["battery_w"] == pytest.approx(3000)
    assert signed(await inputs(modbus, 343, 2)) == -30, "0.1 kW, discharging is positive"
    volts, amps = (await inputs(modbus, 341))[0], (await inputs(modbus, 342))[0] - 0x10000
    assert volts / 10 * -amps / 10 == pytest.approx(3000, abs=10)
    assert signed(await inputs(modbus, 360, 2)) == -round(500 - 300 + 3000 / 0.94), "sold is positive"
    assert await inputs(modbus, 370, 4) == [0, 165, 0, 135]
    # 100 A and 100 A, at 20 degC and half full.
    assert await inputs(modbus, 346, 2) == [1000, 1000]


async def test_a_lost_sensor_shows_7fff(bench: Bench, modbus: AsyncModbusTcpClient) -> None:
    await bench.battery(sensor=False)
    assert await inputs(modbus, 345) == [0x7FFF]
    assert await inputs(modbus, 402, 2) == [0, 1 << 3]
    await bench.battery(sensor=True)
    assert await inputs(modbus, 345) == [185]


async def test_high_and_low_words_of_an_energy_stand_apart(bench: Bench, modbus: AsyncModbusTcpClient) -> None:
    """The house has taken 11 903.2 kWh, 119 032 tenths: 1 and 53 496."""
    assert await inputs(modbus, 380, 2) == [0, 1]
    assert await inputs(modbus, 390, 2) == [40_275, 53_496]


async def test_what_is_not_listed_and_half_a_value_answer_02(modbus: AsyncModbusTcpClient) -> None:
    for first, count in ((9, 1), (309, 1), (311, 1), (339, 10), (348, 1), (374, 1), (382, 9), (404, 1), (700, 1)):
        assert await input_code(modbus, first, count) == 2, first
    for first, count in ((0, 1), (699, 1), (700, 4), (709, 2), (719, 11), (729, 1), (790, 1)):
        assert await holding_code(modbus, first, count) == 2, first
    for first, count in ((343, 1), (344, 1), (342, 2), (361, 1), (370, 3), (371, 3)):
        assert await input_code(modbus, first, count) == 2, "S32 and U32 must be read together"
        assert await holding_code(modbus, first, count) == 2
    assert await input_code(modbus, 339, 9) == 0


async def test_measured_registers_are_mirrored_and_the_identity_is_not(
    bench: Bench, modbus: AsyncModbusTcpClient
) -> None:
    await bench.battery(level=71)
    for first, count in ((310, 1), (339, 9), (360, 2), (370, 4), (380, 2), (390, 2), (400, 4)):
        assert await holdings(modbus, first, count) == await inputs(modbus, first, count)
    await bench.set(345, [0x7FFF], table="input")
    assert await holdings(modbus, 345) == [0x7FFF]
    assert await write_one(modbus, 339, 5) == 2, "a mirror is no setting"


async def test_it_acts_on_what_is_saved_and_loses_the_rest_at_a_restart(
    bench: Bench, modbus: AsyncModbusTcpClient
) -> None:
    """22:00 is in 21:30 to 23:00; 40 % of 5000 W are 2000 W."""
    assert await write_several(modbus, 719, [21 << 8 | 30, 23 << 8]) == 0
    assert await write_one(modbus, 725, 40) == 0
    assert await holdings(modbus, 719, 2) == [21 << 8 | 30, 23 << 8]
    assert await bench.registers("kept", 719, 2) == [30, 4 << 8 | 45]
    assert (await bench.acting())["by"] == ""
    assert len(await bench.acted()) == 1
    await bench.restart_inverter()
    assert await holdings(modbus, 719, 7) == [30, 4 << 8 | 45, 0xFFFF, 0xFFFF, 17 << 8 | 30, 19 << 8, 60]

    assert await write_several(modbus, 719, [21 << 8 | 30, 23 << 8]) == 0
    assert await write_one(modbus, 725, 40) == 0
    assert await write_one(modbus, COMMAND, 1) == 0
    assert await holdings(modbus, COMMAND) == [0]
    acting = await bench.acting()
    assert (acting["task"], acting["by"], acting["watts"], acting["until"]) == ("charge", "charge 1", 2000, 95)
    assert (await bench.battery())["battery_w"] == pytest.approx(2000)
    assert (await bench.acted())[-1]["windows"][:4] == [AT_START, 21 << 8 | 30, 23 << 8, 0xFFFF]
    await bench.restart_inverter()
    assert await holdings(modbus, 719, 2) == [21 << 8 | 30, 23 << 8]
    assert await bench.registers("kept", 725) == [40]


async def test_the_command_takes_1_alone(bench: Bench, modbus: AsyncModbusTcpClient) -> None:
    assert await write_one(modbus, 725, 40) == 0
    for value in (0, 2, 0xFFFF):
        assert await write_one(modbus, COMMAND, value) == 3
    assert await bench.registers("kept", 725) == [60]


async def test_the_panel_saves(bench: Bench) -> None:
    await bench.set(725, [55])
    await bench.restart_inverter()
    assert await bench.registers("holding", 725) == await bench.registers("kept", 725) == [55]


async def test_the_enable_word_keeps_every_bit_as_written(bench: Bench, modbus: AsyncModbusTcpClient) -> None:
    assert await holdings(modbus, ENABLE) == [AT_START]
    for word in (0xF0FF, 0x0000, AT_START | 1 << 3):
        assert await write_one(modbus, ENABLE, word) == 0
        assert await holdings(modbus, ENABLE) == [word]


@pytest.mark.parametrize(
    ("word", "battery_w"),
    [
        (1 << 3 | 1 << 8, 3000),
        (1 << 2 | 1 << 8, -500 / 0.94),
        (1 << 3, 0),
    ],
)
async def test_bits_enable_a_period_and_charging_from_the_grid(
    bench: Bench, modbus: AsyncModbusTcpClient, word: int, battery_w: float
) -> None:
    """Period 2 covers 22:00, period 1 does not; without a period the battery serves the house's 500 W."""
    await bench.house(load=500, solar=0)
    assert await write_several(modbus, 719, [30, 4 << 8 | 45, 21 << 8, 2 << 8]) == 0
    assert await write_one(modbus, ENABLE, word) == 0
    assert await write_one(modbus, COMMAND, 1) == 0
    assert (await bench.battery())["battery_w"] == pytest.approx(battery_w, abs=1)


async def test_without_grid_charging_a_period_takes_the_roofs_surplus(
    bench: Bench, modbus: AsyncModbusTcpClient
) -> None:
    await bench.house(load=500, solar=1500)
    assert await write_several(modbus, 719, [21 << 8, 2 << 8]) == 0
    assert await write_one(modbus, ENABLE, 1 << 2) == 0
    assert await write_one(modbus, COMMAND, 1) == 0
    assert (await bench.battery())["battery_w"] == pytest.approx(1000 * 0.94)


async def test_a_discharge_period_has_its_own_power_and_level(bench: Bench) -> None:
    """30 % of 5000 W at 18:00, down to 20 %."""
    await bench.clock(datetime.fromisoformat("2026-01-11T18:00"))
    acting = await bench.acting()
    assert (acting["task"], acting["by"], acting["watts"], acting["until"]) == ("discharge", "discharge 1", 1500, 20)
    assert (await bench.battery(level=60))["battery_w"] == pytest.approx(-1500)


async def test_an_unused_period_does_nothing(bench: Bench, modbus: AsyncModbusTcpClient) -> None:
    """Also where only one of its two times is marked."""
    assert await write_several(modbus, 719, [0xFFFF, 5 << 8]) == 0
    assert await write_one(modbus, COMMAND, 1) == 0
    await bench.clock(datetime.fromisoformat("2026-01-11T01:00"))
    assert (await bench.acting())["by"] == ""


async def test_values_out_of_range_are_refused_whole(bench: Bench, modbus: AsyncModbusTcpClient) -> None:
    for first, values in (
        (719, [24 << 8, 5 << 8]),
        (719, [1 << 8, 2 << 8 | 60]),
        (723, [0xFFFE, 0xFFFF]),
        (725, [50, 101]),
        (725, [101]),
        (727, [50, 9]),
        (700, [26 << 8 | 2, 29 << 8]),
    ):
        assert await write_several(modbus, first, values) == 3, values
    assert await write_several(modbus, 728, [50, 50]) == 2, "40730 is not there"
    assert await bench.registers("holding", 719, 10) == await bench.registers("kept", 719, 10)


async def test_the_clock_too_is_set_by_saving(bench: Bench, modbus: AsyncModbusTcpClient) -> None:
    """2026-01-10 22:00; it is set to 2028-02-29 01:02:03."""
    assert (await holdings(modbus, 700, 2)) == [26 << 8 | 1, 10 << 8 | 22]
    assert await write_several(modbus, 700, [28 << 8 | 2, 29 << 8 | 1, 2 << 8 | 3]) == 0
    assert await holdings(modbus, 700, 2) == [28 << 8 | 2, 29 << 8 | 1]
    assert (await bench.clock())["clock"].startswith("2026-01-10T22:00")
    await bench.restart_inverter()
    assert await holdings(modbus, 700, 2) == [26 << 8 | 1, 10 << 8 | 22]
    assert await write_several(modbus, 700, [28 << 8 | 2, 29 << 8 | 1, 2 << 8 | 3]) == 0
    await bench.advance(3600)
    assert await write_one(modbus, COMMAND, 1) == 0
    assert (await bench.clock())["clock"].startswith("2028-02-29T02:02:0")
    assert (await bench.acting())["by"] == "charge 1"


async def hurried(bench: Bench) -> bool:
    """Whether a frame came too soon."""
    return (await bench.stats())["hurried_frames"] == 1


async def test_a_frame_that_comes_too_soon_is_noticed_and_not_answered() -> None:
    """Interval between frames >= 300 ms. The pause here is no time that a result hangs on: more is as good."""
    options = QUICK | {"frame_gap_ms": 300, "gateway_timeout_ms": 50}
    async with await Bench.start(**options) as bench, client(bench) as modbus:
        assert await input_code(modbus, 339) == 0
        assert await input_code(modbus, 339) == 0x0B
        await until(partial(hurried, bench))
