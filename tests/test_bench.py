"""The bench itself, seen by plain Modbus clients that know nothing of it."""

import asyncio
import json
import os
import struct
import sys
from contextlib import suppress
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path

import pytest
from pymodbus import FramerType, ModbusException
from pymodbus.framer.rtu import FramerRTU

from tests.bench.framing import crc, rtu
from tests.bench.remote import Bench, BenchError
from tests.bench.request import parse, values_answer, written_answer
from tests.bench.teasel import CHARGE, CLOCK, CONTROL_WORD, DISCHARGE, RESERVE_LEVEL, RUNNING_MODE
from tests.plain_client import client
from tests.teasel import FACTORY, INPUT_AT, held, registers
from tests.waiting import until

pytestmark = pytest.mark.usefixtures("socket_enabled")

NIGHT = datetime.fromisoformat("2026-01-10T22:00")
QUICK = {"baud": 115_200, "turnaround_ms": 2, "clock": NIGHT}
"""A line that costs next to nothing, where its time is not the matter."""


async def exchange(bench: Bench, frame: bytes, *, patience: float = 5.0) -> bytes:
    """Send bytes, and take what comes within `patience` seconds, until it pauses or the connection ends."""
    reader, writer = await asyncio.open_connection(bench.host, bench.port)
    writer.write(frame)
    got = b""
    with suppress(TimeoutError):
        async with asyncio.timeout(patience) as limit:
            while chunk := await reader.read(512):
                got += chunk
                limit.reschedule(asyncio.get_running_loop().time() + 0.1)
    writer.close()
    return got


async def connections(bench: Bench, count: int) -> bool:
    """Whether so many connections are open."""
    open_now: int = (await bench.stats())["connections"]
    return open_now == count


async def logged(bench: Bench, what: str, count: int) -> bool:
    """Whether the data logger has done something so many times."""
    return (await bench.logger_state())[what] >= count


def mbap(pdu: str, transaction: int = 7) -> bytes:
    """A TCP frame for unit 1 (Modbus Messaging on TCP/IP V1.0b, 3.1.3)."""
    body = bytes.fromhex(pdu)
    return struct.pack(">HHHB", transaction, 0, len(body) + 1, 1) + body


# -- frames


def test_worked_examples_of_the_protocol() -> None:
    """Modbus Application Protocol V1.1b3, 6.3, 6.6, 6.12 (from memory)."""
    read = parse(1, bytes.fromhex("03 00 6B 00 03"))
    assert (read.first, read.count, read.refusal) == (107, 3, 0)
    assert values_answer(read, [0x022B, 0x0000, 0x0064]) == bytes.fromhex("03 06 02 2B 00 00 00 64")
    one = parse(1, bytes.fromhex("06 00 01 00 03"))
    assert (one.first, one.values) == (1, (3,))
    assert written_answer(one) == bytes.fromhex("06 00 01 00 03")
    several = parse(1, bytes.fromhex("10 00 01 00 02 04 00 0A 01 02"))
    assert (several.first, several.values) == (1, (0x000A, 0x0102))
    assert written_answer(several) == bytes.fromhex("10 00 01 00 02")


async def test_worked_example_of_function_4_on_the_wire() -> None:
    """Modbus Application Protocol V1.1b3, 6.4 (from memory): a register holds 10. There it is 8; here it is 434 (01B2)."""
    async with await Bench.start(**QUICK) as bench:
        await bench.set(434, [10], table="input")
        assert await exchange(bench, mbap("04 01 B2 00 01")) == mbap("04 02 00 0A")
        await bench.measure_again()
        assert await exchange(bench, mbap("04 01 B2 00 01")) == mbap("04 02 00 00")


def test_crc_agrees_with_a_reference_library() -> None:
    """Against pymodbus; and 02 07 gives 41 12 (Modbus over Serial Line V1.02, 6.2.2, from memory)."""
    assert crc(bytes.fromhex("02 07")) == bytes.fromhex("41 12")
    for frame in (b"\x01\x04\x00\x64\x00\x3c", bytes(range(256)), b"\x00"):
        assert crc(frame) == FramerRTU.compute_CRC(frame).to_bytes(2)


REFUSALS = {
    "03 00 6B 00 03": "83 02",
    "2B 0E 01 00": "AB 01",
    "01 00 00 00 01": "81 01",
    "04 01 B8 00 00": "84 03",
    "04 01 B8 00 7E": "84 03",
    "04 02 80 00 14": "84 02",
    "04 02 57 00 02": "84 02",
    "03 02 BB 00 01": "83 02",
    "03 03 3D 00 02": "83 02",
    "04 FF FF 00 02": "84 02",
    "10 02 E4 00 02 03 00 01 00": "90 03",
    "10 02 E4 00 00 00": "90 03",
    "06 03 2F 00 05": "86 02",
    "06 02 E0 00 05": "86 02",
    "10 02 DF 00 02 04 00 01 00 01": "90 02",
    "06 02 E4 09 C4": "86 03",
    "06 02 E7 00 3C": "86 03",
    "06 02 E5 13 89": "86 03",
    "06 02 E6 00 09": "86 03",
    "06 02 E6 00 65": "86 03",
    "06 02 DF 13 89": "86 03",
    "06 02 DD 00 65": "86 03",
    "06 02 DC 00 03": "86 03",
    "06 02 C3 00 0D": "86 03",
    "10 02 C2 00 06 0C 00 1A 00 02 00 1E 00 00 00 00 00 00": "90 03",
}
"""Requests and the exceptions they get: 01, 02 (a gap, an end of the table, not writable), 03 (counts, values)."""


async def test_refusals_change_nothing() -> None:
    async with await Bench.start(**QUICK) as bench:
        before = await bench.registers("holding", 712, 118)
        answers = await asyncio.gather(*(exchange(bench, mbap(pdu)) for pdu in REFUSALS))
        assert dict(zip(REFUSALS, answers, strict=True)) == {pdu: mbap(code) for pdu, code in REFUSALS.items()}
        assert await bench.registers("holding", 712, 118) == before
        assert (await bench.clock())["clock"].startswith("2026-01-10T22:00")


async def test_a_window_takes_level_0_and_24_00_and_nothing_later() -> None:
    async with await Bench.start(**QUICK) as bench, client(bench) as modbus:
        first = CHARGE[1].start
        assert not (await modbus.write_registers(first, [0, 0, 0, 0])).isError()
        assert not (await modbus.write_registers(first, [2200, 5000, 0, 2400])).isError()
        assert (await modbus.write_registers(first, [2200, 5000, 100, 2401])).exception_code == 3
        assert await held(bench, CHARGE[1]) == [2200, 5000, 0, 2400]


async def test_nothing_changes_when_one_register_of_a_write_is_wrong() -> None:
    async with await Bench.start(**QUICK) as bench, client(bench) as modbus:
        before = await bench.registers("holding", 740, 16)
        assert (await modbus.write_registers(740, [102, 500, 50, 304, 102, 500, 101, 304])).exception_code == 3
        assert await bench.registers("holding", 740, 16) == before


# -- readings


async def test_readings_agree_with_each_other() -> None:
    """Power = volts x amperes, and what the grid gives = load - solar + the battery's share, within their steps."""
    async with await Bench.start(**QUICK | {"units": [1, 7]}) as bench, client(bench) as modbus:
        await bench.house(load=700, solar=300)
        await bench.advance(3 * 3600)
        near = (await modbus.read_input_registers(420, count=60)).registers
        far = (await modbus.read_input_registers(540, count=60)).registers
        read = dict(enumerate(near, 420)) | dict(enumerate(far, 540))

        def long(name: str) -> int:
            first = INPUT_AT[name]
            value: int = struct.unpack(">i", struct.pack(">HH", read[first], read[first + 1]))[0]
            return value

        def short(name: str) -> int:
            return read[INPUT_AT[name]]

        power, load, grid = long("battery_power"), long("load_power"), long("grid_power")
        volts, amps = short("battery_voltage") / 10, short("battery_current") / 10
        assert power == 2000
        assert power == pytest.approx(volts * amps, abs=0.05 * volts + 0.05 * amps)
        assert grid == pytest.approx(load - 300 + power / 0.94, abs=2)
        assert short("grid_current") / 100 * short("grid_voltage") / 10 == pytest.approx(grid, abs=15)
        assert short("roof_1_power") + short("roof_2_power") == long("solar_power") == 300
        assert 44 <= volts <= 58
        serial = await modbus.read_input_registers(406, count=8, device_id=7)
        assert struct.pack(">8H", *serial.registers) == b"T5-AM-2611-0048\0"


# -- battery


async def test_energy_is_conserved_over_a_day() -> None:
    """What goes in comes out, is lost, or is stored: losses are those of 94 % each way, nothing else."""
    async with await Bench.start(**QUICK) as bench:
        await bench.house(solar=[0] * 9 + [2500] * 6 + [0] * 9)
        first = await bench.battery(level=40)
        await bench.advance(86_400)
        last = await bench.battery()
        gone = {key: last[key] - first[key] for key in first if key.endswith("_wh")}  # type: ignore[literal-required]
        lost = gone["charged_wh"] * (1 / 0.94 - 1) + gone["discharged_wh"] * (1 - 0.94)
        assert gone["charged_wh"] > 3000
        assert gone["discharged_wh"] > 1000
        assert gone["stored_wh"] == pytest.approx(gone["charged_wh"] - gone["discharged_wh"], abs=1)
        came = gone["imported_wh"] + gone["solar_wh"]
        assert came == pytest.approx(gone["load_wh"] + gone["exported_wh"] + gone["stored_wh"] + lost, abs=2)


async def test_a_window_charges_to_its_stop_level_and_no_further() -> None:
    async with await Bench.start(**QUICK) as bench, client(bench) as modbus:
        await modbus.write_registers(CHARGE[0].start, registers("22:30", "05:00", 1250, 60))
        before = await bench.battery(level=50)
        assert before["task"] == "follow_load"
        await bench.advance(31 * 60)
        assert (await bench.battery())["task"] == "charge"
        assert (await bench.battery())["battery_w"] == pytest.approx(1250.0)
        await bench.advance(3 * 3600)
        assert (await bench.battery())["level"] == pytest.approx(60.0, abs=0.01)
        assert (await bench.battery())["battery_w"] == pytest.approx(0, abs=1)
        await bench.advance(4 * 3600)
        assert (await bench.battery())["task"] == "follow_load"


async def test_a_discharge_window_stops_at_its_level_and_disarming_stops_it_at_once() -> None:
    async with await Bench.start(**QUICK) as bench, client(bench) as modbus:
        await bench.battery(level=70)
        await modbus.write_registers(DISCHARGE[0].start, registers("21:00", "23:00", 1600, 65))
        assert (await bench.battery())["battery_w"] == pytest.approx(-1600.0)
        await modbus.write_register(CONTROL_WORD, 0)
        assert (await bench.battery())["task"] == "follow_load"
        await modbus.write_register(CONTROL_WORD, 1)
        await bench.advance(35 * 60)
        assert (await bench.battery())["level"] == pytest.approx(65.0, abs=0.01)


async def test_charging_tapers_near_full_and_stops_below_freezing() -> None:
    async with await Bench.start(**QUICK) as bench:
        await bench.advance(2 * 3600)
        powers = [(await bench.battery(level=level))["battery_w"] for level in (50, 96, 98, 99.5, 100)]
        assert powers[0] == pytest.approx(2000.0)
        assert powers == sorted(powers, reverse=True)
        assert len({round(watts, 1) for watts in powers}) == 5
        assert (await bench.battery(level=50, temperature=-1))["battery_w"] == 0
        assert await bench.registers("input", INPUT_AT["battery_charge_current_limit"]) == [0]
        assert await bench.registers("input", INPUT_AT["alarms"], 2) == [0, 2]
        assert 0 < (await bench.battery(temperature=5))["battery_w"] < 2000


@pytest.mark.parametrize(
    ("mode", "solar", "battery_w"), [(0, 0, -500 / 0.94), (0, 1500, 1000 * 0.94), (1, 0, 0), (2, 0, -4100 / 0.94)]
)
async def test_running_modes(mode: int, solar: float, battery_w: float) -> None:
    """Follow load: the battery covers it, or takes the surplus; hold: nothing; feed grid: to the feed-in limit of 3600 W."""
    async with await Bench.start(**QUICK) as bench, client(bench) as modbus:
        await bench.battery(level=60)
        await bench.house(load=500, solar=solar)
        await modbus.write_register(RUNNING_MODE, mode)
        assert (await bench.battery())["battery_w"] == pytest.approx(battery_w, abs=1)
        await bench.battery(level=15)
        assert (await bench.battery())["battery_w"] >= 0


# -- clock and schedule


async def test_the_clock_ticks_over_midnight_and_drifts() -> None:
    async with (
        await Bench.start(**QUICK | {"clock": "2027-12-31T23:59:30"}) as bench,
        client(bench) as modbus,
    ):
        assert (await modbus.read_holding_registers(CLOCK[0], count=5)).registers == [27, 12, 31, 23, 59]
        await bench.advance(31)
        assert (await modbus.read_holding_registers(CLOCK[0], count=5)).registers == [28, 1, 1, 0, 0]
        before = await bench.clock(drift_seconds_per_day=-12)
        await bench.advance(86_400)
        after = await bench.clock()
        shown = datetime.fromisoformat(after["clock"]) - datetime.fromisoformat(before["clock"])
        gone = after["seconds"] - before["seconds"]
        assert shown.total_seconds() == pytest.approx(gone * (1 - 12 / 86_400), abs=0.01)


async def test_the_clock_is_set_by_one_write_or_by_single_ones() -> None:
    async with await Bench.start(**QUICK) as bench, client(bench) as modbus:
        assert not (await modbus.write_registers(CLOCK[0], [28, 2, 29, 6, 7, 8])).isError()
        assert (await bench.clock())["clock"].startswith("2028-02-29T06:07:08")
        assert not (await modbus.write_register(CLOCK[3], 4)).isError()
        assert (await bench.clock())["clock"].startswith("2028-02-29T04:07:0")
        assert (await modbus.write_register(CLOCK[0], 27)).exception_code == 3


async def test_time_of_day_decides_by_the_inverters_own_clock() -> None:
    """The house has 22:00; the inverter thinks it is 23:20, and charges."""
    async with await Bench.start(**QUICK) as bench:
        assert (await bench.battery())["task"] == "follow_load"
        await bench.clock(NIGHT + timedelta(minutes=80))
        assert (await bench.battery())["task"] == "charge"


async def test_every_schedule_acted_on_is_known_and_none_while_disarmed() -> None:
    async with await Bench.start(**QUICK) as bench, client(bench) as modbus:
        await modbus.write_register(CONTROL_WORD, 0)
        await modbus.write_registers(CHARGE[0].start, [100, 500, 50, 200])
        await bench.advance(120)
        await modbus.write_register(CONTROL_WORD, 1)
        await modbus.write_register(CHARGE[0].power, 1000)
        await modbus.write_register(RESERVE_LEVEL, 30)
        acted = await bench.acted()
        assert [(image["armed"], image["windows"][:4]) for image in acted] == [
            (True, FACTORY),
            (False, []),
            (True, [100, 500, 50, 200]),
            (True, [100, 1000, 50, 200]),
        ]


async def test_time_runs_at_the_speed_given() -> None:
    async with await Bench.start(**QUICK | {"speed": 36_000}) as bench:
        before = await bench.clock()
        await asyncio.sleep(0.3)
        after = await bench.clock()
        # At least what has gone by: 0.3 s at this speed are 3 h.
        assert after["seconds"] - before["seconds"] >= 3 * 3600
        assert (await bench.battery())["charged_wh"] > 4_182_300


# -- line


@pytest.mark.parametrize(("baud", "silence"), [(9600, 3.5 * 11 / 9600), (19_200, 3.5 * 11 / 19_200), (38_400, 0.00175)])
async def test_a_read_costs_the_time_of_its_characters(baud: int, silence: float) -> None:
    """(8 + 5 + 2n) characters of 11 bits, two silences, the turnaround (Modbus over Serial Line V1.02, 2.5.1.1)."""
    async with await Bench.start(clock=NIGHT, baud=baud, turnaround_ms=30) as bench, client(bench) as modbus:
        await modbus.read_input_registers(440, count=60)
        stats = await bench.stats()
        wanted = (8 + 5 + 2 * 60) * 11 / baud + 2 * silence + 0.030
        assert stats["busy_seconds"] == pytest.approx(wanted)
        assert stats["measured_seconds"] >= wanted - 1e-4
        assert stats["bytes"] == 8 + 5 + 120
        print(f"{baud} baud: {wanted * 1000:.1f} ms by arithmetic, {stats['measured_seconds'] * 1000:.1f} ms measured")


@pytest.mark.parametrize(("write", "length"), [((740, [100, 500, 50, 200]), 9 + 8 + 8), ((733, [30]), 9 + 2 + 8)])
async def test_sizes_of_writes(write: tuple[int, list[int]], length: int) -> None:
    async with await Bench.start(**QUICK) as bench, client(bench) as modbus:
        await modbus.write_registers(*write)
        assert (await bench.stats())["bytes"] == length
        await modbus.write_register(RESERVE_LEVEL, 5)
        assert (await bench.stats())["bytes"] == length + 8 + 5


async def test_two_clients_wait_for_each_other_in_a_queue() -> None:
    async with (
        await Bench.start(clock=NIGHT, turnaround_ms=20) as bench,
        client(bench) as one,
        client(bench) as other,
    ):
        start = asyncio.get_running_loop().time()
        answers = await asyncio.gather(*(modbus.read_input_registers(440, count=30) for modbus in (one, other) * 3))
        assert all(len(answer.registers) == 30 for answer in answers)
        took = asyncio.get_running_loop().time() - start
        # Side by side it would be half of this.
        assert took >= 6 * ((8 + 5 + 60 + 7) * 11 / 9600 + 0.020)
        assert {entry["client"] for entry in await bench.journal()} == {"c1", "c2"}
        assert (await bench.stats())["collisions"] == 0


async def test_a_silent_unit_is_answered_0b_after_the_gateways_time_out() -> None:
    async with await Bench.start(**QUICK | {"gateway_timeout_ms": 150}) as bench, client(bench) as modbus:
        assert (await modbus.read_input_registers(440, device_id=9)).exception_code == 0x0B
        await bench.inverter(answers=False)
        assert (await modbus.read_input_registers(440)).exception_code == 0x0B
        await bench.inverter(answers=True)
        assert not (await modbus.read_input_registers(440)).isError()
        assert (await bench.stats())["waiting_seconds"] == pytest.approx(0.3)


async def test_a_single_gateway_drops_the_second_connection() -> None:
    async with await Bench.start(**QUICK | {"gateway": "single"}) as bench:
        async with client(bench) as modbus:
            assert await exchange(bench, b"") == b""
            assert not (await modbus.read_input_registers(440)).isError()
            assert (await bench.stats())["refused"] == 1
        await until(partial(connections, bench, 0))
        assert await exchange(bench, mbap("04 01 B2 00 01")) == mbap("04 02 00 00")


async def test_rtu_over_tcp() -> None:
    async with (
        await Bench.start(**QUICK | {"framing": "rtu_over_tcp"}) as bench,
        client(bench, framer=FramerType.RTU) as modbus,
    ):
        assert (await modbus.read_holding_registers(CHARGE[0].start, count=4)).registers == FACTORY
        assert await exchange(bench, rtu(1, bytes.fromhex("04 01 B2 00 01"))[:-1] + b"\xff", patience=0.5) == b""
        assert (await bench.stats())["damaged_frames"] == 1


async def test_masters_on_a_transparent_gateway_collide_and_hear_each_others_answers() -> None:
    request = rtu(1, bytes.fromhex("04 01 96 00 08"))
    async with await Bench.start(clock=NIGHT, gateway="transparent", baud=1200) as bench:
        listener, listening = await asyncio.open_connection(bench.host, bench.port)
        alone = await exchange(bench, request)
        assert alone[3:-2] == b"T5-AM-2611-0042\0"
        async with asyncio.timeout(5):
            assert await listener.readexactly(len(alone)) == alone
        listening.close()
        both = await asyncio.gather(*(exchange(bench, request, patience=1.0) for _ in range(2)))
        assert both == [b"", b""]
        assert (await bench.stats())["collisions"] == 1

        async def late() -> bytes:
            # At 1200 baud the answer is on the bus from 125 to 318 ms.
            await asyncio.sleep(0.2)
            return await exchange(bench, request)

        spoilt, _ = await asyncio.gather(exchange(bench, request), late())
        assert len(spoilt) == len(alone)
        assert crc(spoilt[:-2]) != spoilt[-2:]
        assert (await bench.stats())["collisions"] == 2


async def test_the_gateway_goes_down_comes_back_and_is_slow() -> None:
    async with await Bench.start(**QUICK) as bench:
        async with client(bench) as modbus:
            await bench.gateway(down=True)
            with pytest.raises(ModbusException):
                await modbus.read_input_registers(440)
        with pytest.raises(ConnectionRefusedError):
            await asyncio.open_connection(bench.host, bench.port)
        await bench.gateway(down=False, answers_after_ms=800)
        async with client(bench, timeout=0.5) as modbus:
            with pytest.raises(ModbusException):
                await modbus.read_input_registers(440)
        await bench.gateway(restart=True, answers_after_ms=0, own_transaction_ids=True)
        answer = await exchange(bench, mbap("04 01 B2 00 01"))
        assert answer[:2] != mbap("")[:2]
        assert answer[2:] == mbap("04 02 00 00")[2:]


# -- faults

WRITE = mbap("10 02 E4 00 02 04 00 01 00 02")
WRITTEN = mbap("10 02 E4 00 02")
BEFORE, AFTER = [2240, 2000], [1, 2]
"""The first window's start and power."""


@pytest.mark.parametrize(
    ("kind", "order", "answer", "stored"),
    [
        ("no_answer", {}, b"", BEFORE),
        ("no_answer", {"gateway_answers": True}, mbap("90 0B"), BEFORE),
        ("answer_lost", {}, b"", AFTER),
        ("answer_lost", {"gateway_answers": True}, mbap("90 0B"), AFTER),
        *(("exception", {"code": code}, mbap(f"90 {code:02X}"), BEFORE) for code in (1, 2, 3, 4, 5, 6, 10, 11)),
        ("wrong_id", {}, mbap("10 02 E4 00 02", transaction=8), AFTER),
        ("truncated", {}, WRITTEN[:6], AFTER),
        ("late", {"ms": 200}, WRITTEN, AFTER),
        ("late", {"ms": 900}, b"", AFTER),
        ("repeated", {}, WRITTEN * 2, AFTER),
        ("write_ignored", {}, WRITTEN, BEFORE),
        ("write_clamped", {}, WRITTEN, [0, 1]),
        ("write_clamped", {"limit": 1}, WRITTEN, [1, 1]),
        ("overwrite", {"address": 741, "value": 44}, WRITTEN, [1, 44]),
    ],
)
async def test_fault(kind: str, order: dict[str, int], answer: bytes, stored: list[int]) -> None:
    """The second write meets the fault: what its client gets, what memory holds; the third does not."""
    async with await Bench.start(**QUICK | {"gateway_timeout_ms": 50}) as bench:
        await bench.fault(kind, nth=2, only="write", **order)
        assert await exchange(bench, mbap("10 02 E4 00 02 04 08 C0 07 D0")) == WRITTEN
        assert await exchange(bench, mbap("03 02 E4 00 02")) == mbap("03 04 08 C0 07 D0")
        assert await exchange(bench, WRITE, patience=5.0 if answer else 0.5) == answer
        assert await bench.registers("holding", CHARGE[0].start, 2) == stored
        assert (await bench.journal())[-1]["fault"] == kind
        assert (await bench.stats())["faults_met"] == 1
        assert (await bench.stats())["faults_waiting"] == 0
        assert await exchange(bench, WRITE) == WRITTEN


@pytest.mark.parametrize(("kind", "stored"), [("reset", BEFORE), ("reset_after", AFTER)])
async def test_fault_reset(kind: str, stored: list[int]) -> None:
    async with await Bench.start(**QUICK) as bench:
        await bench.fault(kind)
        with pytest.raises(ConnectionResetError):
            await exchange(bench, WRITE)
        assert await bench.registers("holding", CHARGE[0].start, 2) == stored


async def test_fault_repeated_next() -> None:
    async with await Bench.start(**QUICK) as bench:
        await bench.fault("repeated_next", only="write")
        reader, writer = await asyncio.open_connection(bench.host, bench.port)
        writer.write(WRITE)
        assert await reader.readexactly(len(WRITTEN)) == WRITTEN
        writer.write(mbap("03 02 E4 00 02"))
        assert await reader.readexactly(len(WRITTEN)) == WRITTEN
        read = mbap("03 04 00 01 00 02")
        assert await reader.readexactly(len(read)) == read
        writer.close()


async def test_fault_write_shows_late() -> None:
    async with await Bench.start(**QUICK) as bench:
        await bench.fault("write_shows_late", ms=1200)
        assert await exchange(bench, WRITE) == WRITTEN
        assert await bench.registers("holding", CHARGE[0].start, 2) == BEFORE
        await asyncio.sleep(1.2)
        assert await bench.registers("holding", CHARGE[0].start, 2) == AFTER


async def test_fault_in_rtu_has_the_wrong_unit() -> None:
    async with await Bench.start(**QUICK | {"framing": "rtu_over_tcp"}) as bench:
        await bench.fault("wrong_id")
        answer = await exchange(bench, rtu(1, bytes.fromhex("04 01 B2 00 01")))
        assert answer == rtu(2, bytes.fromhex("04 02 00 00"))


async def test_faults_are_narrowed_repeated_and_cleared() -> None:
    async with await Bench.start(**QUICK) as bench, client(bench) as modbus:
        await bench.fault("exception", code=6, touches=744, count=2)
        codes = [
            (await modbus.read_holding_registers(first, count=3)).exception_code for first in (740, 742, 745, 744, 744)
        ]
        assert codes == [0, 6, 0, 6, 0]
        await bench.fault("exception", count=None, client="logger")
        await bench.fault("exception", count=None, only="write")
        assert not (await modbus.read_holding_registers(CHARGE[0].start)).isError()
        assert (await modbus.write_register(RESERVE_LEVEL, 30)).exception_code == 4
        await bench.clear_faults()
        assert not (await modbus.write_register(RESERVE_LEVEL, 30)).isError()
        with pytest.raises(BenchError, match="unknown kind"):
            await bench.fault("nonsense")


async def test_random_lateness_is_the_same_with_the_same_seed() -> None:
    async def late(seed: int) -> list[bool]:
        async with await Bench.start(**QUICK | {"seed": seed}) as bench, client(bench) as modbus:
            await bench.fault("random_late", share=0.3, ms=[20, 40])
            for _ in range(25):
                await modbus.read_input_registers(440)
            return [entry["fault"] == "late" for entry in await bench.journal()]

    one = await late(5)
    assert await late(5) == one
    assert await late(6) != one
    assert 1 < sum(one) < 20


# -- data logger


async def test_the_data_logger_polls_and_overwrites_when_told() -> None:
    async with await Bench.start(**QUICK) as bench:
        await bench.logger(every_s=0.05, first=440, count=20)
        await bench.logger_overwrite(
            CHARGE[0].start, registers("03:03", "04:04", 500, 50), at=NIGHT + timedelta(hours=1)
        )
        await until(partial(logged, bench, "answers", 3))
        assert await bench.registers("holding", CHARGE[0].start, 2) == BEFORE
        await bench.advance(3600)
        await until(partial(logged, bench, "overwritten", 1))
        assert await held(bench) == registers("03:03", "04:04", 500, 50)
        journal = await bench.journal()
        assert {entry["client"] for entry in journal} == {"logger"}
        assert [entry["function"] for entry in journal].count(16) == 1
        # A poll may be out at any moment: counted is once no more are made.
        await bench.logger(every_s=0)
        await until(partial(connections, bench, 0))
        state = await bench.logger_state()
        assert state["polls"] == state["answers"] > 1
        assert state["overwritten"] == 1


# -- process


async def test_the_process_ends_when_its_starter_does() -> None:
    bench = await Bench.start(**QUICK)
    await bench.stop()

    def gone() -> bool:
        try:
            os.kill(bench.pid, 0)
        except ProcessLookupError:
            return True
        return False

    # It closes its sockets a moment before the system has forgotten it.
    await until(gone)
    with pytest.raises(ConnectionRefusedError):
        await asyncio.open_connection(bench.host, bench.port)


async def test_the_process_ends_cleanly_on_sigterm() -> None:
    arguments = ("-m", "tests.bench", "--port", "0")
    pipe = asyncio.subprocess.PIPE
    root = Path(__file__).parents[1]
    process = await asyncio.create_subprocess_exec(sys.executable, *arguments, cwd=root, stdout=pipe, stderr=pipe)
    assert process.stdout
    ports = json.loads(await process.stdout.readline())
    assert ports["pid"] == process.pid
    _, writer = await asyncio.open_connection("127.0.0.1", ports["control"])
    process.terminate()
    _, complaints = await process.communicate()
    writer.close()
    assert (process.returncode, complaints) == (0, b"")


async def test_wrong_options_are_refused() -> None:
    with pytest.raises(BenchError, match="ended with 2"):
        await Bench.start(gateway="nonsense")
