"""The bench's Pebblemoor, by plain requests; addresses are those of its document, values are worked by hand from it."""

from collections.abc import AsyncIterator
from datetime import datetime

import pytest
from pymodbus.client import AsyncModbusTcpClient

from tests.bench.remote import Bench
from tests.plain_client import client, holding_code, holdings, input_code, inputs, write_one, write_several

pytestmark = pytest.mark.usefixtures("socket_enabled")

SATURDAY = datetime.fromisoformat("2026-01-10T22:00")
QUICK = {"inverter": "pebblemoor", "baud": 115_200, "turnaround_ms": 2, "clock": SATURDAY}
UNLOCK, SCHEDULER, SLOT_3 = 0x2F0, 0x2F1, 0x312
EVERY_DAY = 0b111_1111


@pytest.fixture
async def bench(socket_enabled: None) -> AsyncIterator[Bench]:
    async with await Bench.start(**QUICK) as running:
        yield running


@pytest.fixture
async def modbus(bench: Bench) -> AsyncIterator[AsyncModbusTcpClient]:
    async with client(bench) as plain:
        yield plain


async def unlock(modbus: AsyncModbusTcpClient) -> None:
    assert await write_one(modbus, UNLOCK, 0xA5A5) == 0


async def shown(bench: Bench) -> str:
    """The clock, to the minute."""
    return (await bench.clock())["clock"][:16]


async def test_identity_text_has_its_low_byte_first(modbus: AsyncModbusTcpClient) -> None:
    """PM8-AM-2611-00000042: M before P in the first register."""
    words = await inputs(modbus, 0, 10)
    assert words[0] == ord("M") << 8 | ord("P")
    assert words[9] == ord("2") << 8 | ord("4")
    assert bytes(byte for word in words for byte in (word & 0xFF, word >> 8)) == b"PM8-AM-2611-00000042"
    assert await inputs(modbus, 0x10) == [8]
    assert await holdings(modbus, 0x100) == [5000]


async def test_power_has_its_direction_in_a_register_of_its_own(bench: Bench, modbus: AsyncModbusTcpClient) -> None:
    """Idle with nothing to do; at 01:00 3000 W in; at 18:00 on Monday 2500 W out. State 1 idle, 2 run, under a reason."""
    await bench.house(load=0, solar=0)
    assert await inputs(modbus, 0x20, 2) == [0, 0]
    assert (await inputs(modbus, 0x30))[0] & 0xF == 1
    await bench.clock(datetime.fromisoformat("2026-01-12T01:00"))
    assert await inputs(modbus, 0x20, 2) == [3000, 1]
    await bench.clock(datetime.fromisoformat("2026-01-12T18:00"))
    assert await inputs(modbus, 0x20, 2) == [2500, 2]
    state = (await inputs(modbus, 0x30))[0]
    assert state & 0xF == 2
    assert state >> 4


async def test_readings(bench: Bench, modbus: AsyncModbusTcpClient) -> None:
    """Level in tenths, 53.2 V open at 80 %, 25 degC is 65; bought is positive, low word first; E_in is high word first."""
    await bench.house(load=0, solar=0)
    await bench.battery(level=80, temperature=25)
    assert await inputs(modbus, 0x22, 3) == [5320, 800, 65]
    await bench.battery(temperature=-12.4)
    assert await inputs(modbus, 0x24) == [28]
    # 41 823 and 39 314 times 100 Wh.
    assert await inputs(modbus, 0x28, 4) == [0, 41_823, 39_314, 0]
    # At 8 % the battery gives nothing: all is bought.
    await bench.battery(level=8, temperature=25)
    await bench.house(load=40_000)
    assert await inputs(modbus, 0x26, 2) == [40_000, 0]
    await bench.house(load=0, solar=8000)
    await bench.battery(level=100)
    # Fed in to the limit of 3600 W: -3600 is 0xFFFFF1F0.
    assert await inputs(modbus, 0x26, 2) == [0xF1F0, 0xFFFF]


async def test_what_is_not_listed_answers_02(modbus: AsyncModbusTcpClient) -> None:
    for first, count in ((0x0A, 1), (0x0F, 2), (0x11, 1), (0x20, 6), (0x25, 1), (0x2C, 1), (0x31, 1)):
        assert await input_code(modbus, first, count) == 2, first
    for first, count in ((0, 1), (0xFF, 2), (0x101, 1), (0x207, 1), (0x2EF, 2), (0x2F2, 1), (0x300, 37)):
        assert await holding_code(modbus, first, count) == 2, first
    assert await holding_code(modbus, 0x300, 36) == 0


@pytest.mark.parametrize("code", [4, 1])
async def test_nothing_is_written_while_locked(code: int) -> None:
    async with await Bench.start(**QUICK | {"locked_exception": code}) as bench, client(bench) as modbus:
        before = await bench.registers("holding", 0x300, 36)
        assert await holdings(modbus, UNLOCK) == [0]
        assert await write_one(modbus, SCHEDULER, 0xAA55) == code
        assert await write_one(modbus, 0x202, 0x05) == code
        assert await write_several(modbus, SLOT_3, [1, EVERY_DAY, 0, 60, 1000, 500]) == code
        assert await bench.registers("holding", 0x300, 36) == before
        assert await holdings(modbus, SCHEDULER) == [0x55AA]
        await unlock(modbus)
        assert await write_one(modbus, SCHEDULER, 0xAA55) == 0


async def test_it_locks_itself_again_after_60_s(bench: Bench, modbus: AsyncModbusTcpClient) -> None:
    """The bench's clock stands at real speed, so that less than a minute is given here and more is given there."""
    await unlock(modbus)
    assert await holdings(modbus, UNLOCK) == [1]
    await bench.advance(40)
    assert await write_one(modbus, SCHEDULER, 0xAA55) == 0
    await bench.advance(20)
    assert await holdings(modbus, UNLOCK) == [0]
    assert await write_one(modbus, SCHEDULER, 0x55AA) == 4
    await unlock(modbus)
    await bench.advance(40)
    await unlock(modbus)
    await bench.advance(40)
    assert await write_one(modbus, SCHEDULER, 0x55AA) == 0
    await bench.restart_inverter()
    assert await write_one(modbus, SCHEDULER, 0x55AA) == 4


async def test_another_key_does_not_unlock(modbus: AsyncModbusTcpClient) -> None:
    for key in (0, 1, 0x5A5A):
        assert await write_one(modbus, UNLOCK, key) == 3
    assert await holdings(modbus, UNLOCK) == [0]


async def test_a_slot_is_written_whole_and_all_else_one_by_one(bench: Bench, modbus: AsyncModbusTcpClient) -> None:
    slot = [1, EVERY_DAY, 1300, 200, 2000, 805]
    await unlock(modbus)
    assert await write_one(modbus, SLOT_3, 1) == 1
    assert await write_several(modbus, SCHEDULER, [0x55AA]) == 1
    assert await write_several(modbus, 0x200, [0, 0, 4]) == 1
    for first, values in ((SLOT_3, slot[:5]), (SLOT_3, slot * 2), (SLOT_3 + 1, slot), (SLOT_3, slot[:1])):
        assert await write_several(modbus, first, values) == 3
    for at, value in enumerate((4, 0x80, 1440, 1441, 10_001, 1001)):
        wrong = [*slot[:at], value, *slot[at + 1 :]]
        assert await write_several(modbus, SLOT_3, wrong) == 3
    assert await bench.registers("holding", SLOT_3, 6) == [0] * 6
    assert await write_several(modbus, SLOT_3, slot) == 0
    assert await holdings(modbus, SLOT_3, 6) == slot


@pytest.mark.parametrize(("mode", "task"), [(0, ""), (1, "charge"), (2, "discharge"), (3, "hold")])
async def test_the_mode_says_what_a_slot_does(bench: Bench, modbus: AsyncModbusTcpClient, mode: int, task: str) -> None:
    await bench.house(load=500, solar=0)
    await bench.battery(level=60)
    await unlock(modbus)
    assert await write_several(modbus, SLOT_3, [mode, EVERY_DAY, 21 * 60, 120, 2000, 405]) == 0
    acting = await bench.acting()
    assert (acting["task"], acting["by"]) == ((task, "slot 3") if task else ("follow_load", ""))
    if mode in {1, 2}:
        assert (acting["watts"], acting["until"]) == (2000, 40.5)
    wanted = {0: -500 / 0.94, 1: 0, 2: -2000, 3: 0}[mode]
    assert (await bench.battery())["battery_w"] == pytest.approx(wanted, abs=1)


async def test_a_slot_begins_on_its_days_and_lasts_over_midnight(bench: Bench, modbus: AsyncModbusTcpClient) -> None:
    """Saturday is bit 5. 23:00 and 180 minutes: until 02:00 on Sunday, and not at 01:00 on Saturday."""
    await unlock(modbus)
    assert await write_several(modbus, SLOT_3, [3, 1 << 5, 23 * 60, 180, 0, 0]) == 0
    # The other slot is in the way at night.
    assert await write_several(modbus, 0x300, [0] * 6) == 0
    found = {}
    for moment in ("10T22:59", "10T23:00", "11T01:59", "11T02:00", "10T01:00", "11T23:30", "17T23:30"):
        await bench.clock(datetime.fromisoformat(f"2026-01-{moment}"))
        found[moment] = (await bench.acting())["by"]
    slot = "slot 3"
    assert list(found.values()) == ["", slot, slot, "", "", "", slot]


async def test_a_slot_of_1440_minutes_is_always_and_of_none_never(bench: Bench, modbus: AsyncModbusTcpClient) -> None:
    await unlock(modbus)
    assert await write_several(modbus, SLOT_3, [3, EVERY_DAY, 600, 1440, 0, 0]) == 0
    for time in ("09:59", "10:00", "23:59", "00:00"):
        await bench.clock(datetime.fromisoformat(f"2026-01-10T{time}"))
        assert (await bench.acting())["by"] == "slot 3"
    await unlock(modbus)
    assert await write_several(modbus, SLOT_3, [3, EVERY_DAY, 600, 0, 0, 0]) == 0
    await bench.clock(datetime.fromisoformat("2026-01-10T10:00"))
    assert (await bench.acting())["by"] == ""


async def test_the_later_slot_wins(bench: Bench, modbus: AsyncModbusTcpClient) -> None:
    await unlock(modbus)
    for first in (SLOT_3, SLOT_3 + 12, SLOT_3 + 6):
        assert await write_several(modbus, first, [1, EVERY_DAY, 21 * 60, 120, 1000, 900]) == 0
    assert (await bench.acting())["by"] == "slot 5"


async def test_the_scheduler_has_two_magic_values(bench: Bench, modbus: AsyncModbusTcpClient) -> None:
    await bench.clock(datetime.fromisoformat("2026-01-10T01:00"))
    assert (await bench.acting())["by"] == "slot 0"
    await unlock(modbus)
    for value in (0, 1, 0x55AB):
        assert await write_one(modbus, SCHEDULER, value) == 3
    assert await write_one(modbus, SCHEDULER, 0xAA55) == 0
    assert (await bench.acting())["by"] == ""
    assert (await bench.acted())[-1]["windows"] == []
    assert await write_one(modbus, SCHEDULER, 0x55AA) == 0
    assert (await bench.acting())["by"] == "slot 0"
    assert (await bench.acted())[-1]["windows"][:6] == [1, EVERY_DAY, 30, 240, 3000, 900]


async def test_the_clock_is_bcd_with_its_weekday(bench: Bench, modbus: AsyncModbusTcpClient) -> None:
    """Saturday 2027-12-25 23:58 and Sunday 2026-01-11 19:45; day 0 is Sunday."""
    await bench.clock(datetime.fromisoformat("2027-12-25T23:58"))
    assert await holdings(modbus, 0x201, 6) == [0x58, 0x23, 6, 0x25, 0x12, 0x27]
    await bench.clock(datetime.fromisoformat("2026-01-11T19:45"))
    assert await holdings(modbus, 0x201, 6) == [0x45, 0x19, 0, 0x11, 0x01, 0x26]


async def test_the_clock_is_set_by_single_registers_in_any_order(bench: Bench, modbus: AsyncModbusTcpClient) -> None:
    """From 2026-02-10 to 31 January: day 31 waits until there is a month that has it."""
    await bench.clock(datetime.fromisoformat("2026-02-10T22:00"))
    await unlock(modbus)
    assert await write_one(modbus, 0x204, 0x31) == 0
    assert (await shown(bench)).startswith("2026-02-10")
    assert await holdings(modbus, 0x204, 2) == [0x31, 0x02]
    assert await write_one(modbus, 0x205, 0x01) == 0
    assert await shown(bench) == "2026-01-31T22:00"
    assert await write_one(modbus, 0x202, 0x07) == 0
    assert await write_one(modbus, 0x201, 0x09) == 0
    assert await shown(bench) == "2026-01-31T07:09"
    for address, value in (
        *((0x200, 0x60), (0x201, 0x5A), (0x202, 0x24), (0x203, 7), (0x204, 0x32), (0x204, 0), (0x205, 0x13)),
        (0x206, 0xA0),
    ):
        assert await write_one(modbus, address, value) == 3, f"{address:#x}"


async def test_the_weekday_counts_by_itself_and_slots_go_by_it(bench: Bench, modbus: AsyncModbusTcpClient) -> None:
    """Saturday is said to be Tuesday: at 18:00 the slot of Monday to Friday runs; after midnight it is Wednesday."""
    await bench.clock(datetime.fromisoformat("2026-01-10T18:00"))
    assert (await bench.acting())["by"] == ""
    await unlock(modbus)
    assert await write_one(modbus, 0x203, 2) == 0
    assert (await bench.acting())["by"] == "slot 4"
    assert await write_one(modbus, 0x204, 0x11) == 0
    assert await holdings(modbus, 0x203, 2) == [2, 0x11]
    await bench.advance(86_400)
    assert await holdings(modbus, 0x203, 2) == [3, 0x12]


async def test_reads_cut_nothing_off(modbus: AsyncModbusTcpClient) -> None:
    """The document lets long values be read by halves."""
    assert [await input_code(modbus, first) for first in (0x26, 0x27, 0x28, 0x2B)] == [0] * 4
    assert await inputs(modbus, 0x29) == [41_823]
