"""The way from one schedule to another: what an inverter acts on between two of its requests.

The bundled Burdock runs on the bench, in another process; other kinds of inverter in simulated time.
"""

import random
from collections.abc import AsyncIterator
from dataclasses import replace
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from custom_components.chargehand.core.inverter.inverter import Inverter
from custom_components.chargehand.core.modbus import Endpoint, Framing, Gateway, Line
from custom_components.chargehand.core.registers import load_map
from custom_components.chargehand.core.schedule.receipt import Outcome
from custom_components.chargehand.core.schedule.request import ScheduleRequest, WindowRequest
from tests.bench.remote import Bench
from tests.simulation.case import Case, Stage, stage
from tests.simulation.changes import SIZE, Change, RequestedWindow, applied, memory_with
from tests.simulation.device import WRITE_MASK
from tests.simulation.kinds import HAND_MADE, Kind

BURDOCK = Path(__file__).parents[3] / "custom_components" / "chargehand" / "maps" / "burdock_b3.yaml"
ACTIVE_WORD, DISCHARGE_TIMES, DISCHARGE_POWER = 102, 140, 150


@pytest.fixture
def declared(declared: frozenset[int]) -> frozenset[int]:
    """What may be written to kinds in simulated time is for `tests.simulation.case` to judge."""
    return declared | set(range(SIZE))


def kind_named(part: str) -> Kind:
    """The kind of inverter whose name has this part."""
    (found,) = (kind for kind in HAND_MADE if part in kind.name)
    return found


# ---- the bundled Burdock, over real TCP


@pytest.fixture
async def burdock(socket_enabled: None) -> AsyncIterator[tuple[Bench, Inverter]]:
    """The Burdock with two discharge windows in use: 12:00–18:00 and 19:00–20:00."""
    async with await Bench.start(inverter="burdock", baud=921_600, turnaround_ms=1) as bench:
        await bench.set(DISCHARGE_TIMES, [12 << 8, 18 << 8, 19 << 8, 20 << 8])
        await bench.set(DISCHARGE_POWER, [150, 100])
        await bench.set(ACTIVE_WORD, [0b11 | 1 << 12])
        gateway = Gateway(Endpoint(host=bench.host, port=bench.port, framing=Framing.TCP))
        yield bench, Inverter(load_map(BURDOCK), Line(gateway, unit=1, timeout_ms=1000), ZoneInfo("UTC"))
        gateway.close()


def discharges(registers: list[int]) -> set[tuple[str, str]]:
    """The discharge windows that act, by the bench's own register table: the active word, 16 of charging, 4 times, 4 limits."""
    word, times = registers[0], registers[17:21]
    spans = [(times[at], times[at + 1]) for at in (0, 2) if word >> (at // 2) & 1]
    return {(f"{start >> 8:02d}:{start & 255:02d}", f"{end >> 8:02d}:{end & 255:02d}") for start, end in spans}


def discharge(start: str, end: str, power: float) -> WindowRequest:
    return WindowRequest(start=start, end=end, power=power, stop_level=30)


async def test_windows_whose_active_bits_share_a_register_are_all_blanked(burdock: tuple[Bench, Inverter]) -> None:
    bench, inverter = burdock
    before = len(await bench.acted())
    wanted = [discharge("06:00", "07:00", 1500), discharge("08:00", "09:00", 1000)]
    done = await inverter.apply(ScheduleRequest(discharge=wanted))
    assert done.receipt.outcome is Outcome.CONFIRMED
    old, new = {("12:00", "18:00"), ("19:00", "20:00")}, {("06:00", "07:00"), ("08:00", "09:00")}
    acted = [discharges(one["windows"]) for one in (await bench.acted())[before:]]
    assert acted[-1] == new
    assert set() in acted, "both were kept from acting at once"
    for found in acted:
        assert found <= old or found <= new, f"it acted on {found}"


async def test_a_window_that_stays_is_not_switched_off_by_one_whose_bit_is_in_the_same_register(
    burdock: tuple[Bench, Inverter],
) -> None:
    bench, inverter = burdock
    before = len(await bench.acted())
    wanted = [discharge("12:00", "18:00", 1500), discharge("20:00", "21:00", 1000)]
    await inverter.apply(ScheduleRequest(discharge=wanted))
    acted = [discharges(one["windows"]) for one in (await bench.acted())[before:]]
    assert acted[-1] == {("12:00", "18:00"), ("20:00", "21:00")}
    assert {("12:00", "18:00")} in acted, "the other one was kept from acting alone"
    for found in acted:
        assert ("12:00", "18:00") in found
    assert (await bench.registers("holding", ACTIVE_WORD))[0] >> 12 == 1, "somebody else's bit is as it was"


# ---- other kinds, in simulated time


def simulate(kind: Kind, change: Change) -> tuple[str, Stage]:
    """Simulate a change on a kind, with all that `tests.simulation.case` holds true of it."""
    with stage(kind) as at:
        end, _ = at.run(Case(change=change))
        return end, at


FIRST, SECOND = (
    RequestedWindow(start=755, end=845, power=1500, level=80),
    RequestedWindow(start=905, end=1025, power=2500, level=60),
)
MOVED = replace(SECOND, start=1090, end=1210)


def test_a_window_is_not_torn_between_two_frames() -> None:
    # Windows of six registers in frames of eight, and nothing to arm by: the second one's start and end are in two frames.
    kind = kind_named("longer than what is left of a frame")
    before = memory_with(kind, [FIRST, SECOND], [])
    both = applied("both moved", kind, before, [replace(FIRST, start=705), MOVED], [])
    end, at = simulate(kind, both)
    assert end == "Committed"
    times = set(kind.charge[1].times)
    for write in at.device.record.writes:
        assert times <= write.values.keys() or times.isdisjoint(write.values), "start and end go in one request"


def test_what_arms_in_the_register_of_the_windows_bits_switches_none_on_by_the_way() -> None:
    kind = kind_named("a mode arms, in the word")
    before = memory_with(kind, [FIRST], [], armed=False)
    end, at = simulate(kind, applied("armed", kind, before, [MOVED, FIRST], []))
    assert end == "Committed"
    assert at.device.record.acted[0][0] == frozenset()


@pytest.mark.parametrize("name", ["deaf for 50 ms", "deaf for 3 s", "busy to writes for 5 s", "busy for 3 s"])
def test_an_inverter_that_takes_nothing_for_a_while_after_each_write_is_waited_for(name: str) -> None:
    kind = kind_named(name)
    before = memory_with(kind, [FIRST], [])
    end, at = simulate(kind, applied("two others", kind, before, [MOVED, FIRST], []))
    assert end == "Committed"
    assert len(at.device.record.writes) > 2, "one frame alone would show nothing"


def test_a_busy_inverter_is_asked_again_before_anything_is_begun() -> None:
    kind = replace(kind_named("switch arms"), busy_ms=2000)
    change = applied("all", kind, memory_with(kind, [FIRST], []), [MOVED], [])
    with stage(kind) as at:
        at.busy_at_first = True
        end, _ = at.run(Case(change=change))
    assert end == "Committed"


def test_an_answer_that_comes_twice_is_not_taken_for_the_next_ones() -> None:
    kind = kind_named("windows that are read alike")
    before = memory_with(kind, [FIRST], [SECOND])
    end, _ = simulate(kind, applied("one moved", kind, before, [replace(FIRST, start=705)], [SECOND]))
    assert end == "Committed"


def test_a_device_that_masks_bits_is_never_sent_anybody_elses() -> None:
    kind = kind_named("the device masks bits")
    before = memory_with(kind, [FIRST, SECOND], [])
    # The second one's bit is off: it has to be written, whatever else the register holds.
    before[10] &= ~0b10
    end, at = simulate(kind, applied("one switched on", kind, before, [FIRST, MOVED], []))
    assert end == "Committed"
    shared = [write for write in at.device.record.writes if 10 in write.values]
    assert shared
    assert {write.function for write in shared} == {WRITE_MASK}


def test_a_change_of_a_shared_limit_rests_every_window_that_has_it() -> None:
    kind = kind_named("single writes, armed by a switch")
    strong = [replace(one, power=2000, level=80) for one in (FIRST, SECOND)]
    weak = [replace(FIRST, start=705, power=1000), replace(SECOND, power=1000)]
    end, at = simulate(kind, applied("one power", kind, memory_with(kind, strong, []), weak, []))
    assert end == "Committed"
    acted = [{(one.slot, one.power) for one in acts} for acts, _ in at.device.record.acted]
    assert acted[-1] == {(0, 1000), (1, 1000)}
    for found in acted:
        assert found in ({(0, 2000), (1, 2000)}, set(), {(0, 1000), (1, 1000)})


def test_bits_of_several_windows_in_a_foreign_word_leave_the_other_bits() -> None:
    kind = kind_named("unused ones marked")
    before = memory_with(kind, [FIRST], [])
    before[10] = 0b1010_1010_1110_0111
    end, at = simulate(kind, applied("two and one", kind, before, [FIRST, SECOND], [MOVED]))
    assert end == "Committed"
    words = [write.values[10] for write in at.device.record.writes if 10 in write.values]
    assert words
    assert words[-1] == 0b1010_1010_1111_1111
    assert {word & ~0b11100 for word in words} == {0b1010_1010_1110_0011}


def test_a_window_over_midnight_puts_its_morning_where_its_limits_are_taken() -> None:
    kind = kind_named("windows of different limits")
    night = RequestedWindow(start=1380, end=240, power=2500, level=90)
    end, at = simulate(kind, applied("a night", kind, memory_with(kind, [], []), [night], []))
    assert end == "Committed"
    taken = {slot.power: slot for slot in kind.charge}
    for write in at.device.record.writes:
        for address, value in write.values.items():
            slot = taken.get(address)
            assert slot is None or slot.least <= value <= slot.most


def test_a_window_over_midnight_without_a_place_for_its_morning_is_refused_before_anything_is_sent() -> None:
    kind = kind_named("windows of different limits")
    kind = replace(kind, charge=kind.charge[1:4])
    night = RequestedWindow(start=1380, end=240, power=2500, level=90)
    end, at = simulate(kind, applied("a night", kind, memory_with(kind, [], []), [night], []))
    assert end == "Rejected"
    assert not at.device.record.writes


def test_a_start_that_is_written_alone_is_seen_to_act_with_the_old_end() -> None:
    kind = kind_named("nothing arms, times in one frame")
    before = memory_with(kind, [FIRST, SECOND], [], chance=random.Random(3))
    with stage(kind) as at:
        at.device.hold(before)
        slot = kind.charge[1]
        at.device.poke({slot.start: 2000})
        acted = {(one.slot, one.start, one.end) for one in at.device.record.acted[-1][0]}
    assert (1, 1200, 1025) in acted


def test_a_window_that_is_only_taken_whole_goes_whole_when_one_of_its_registers_changes() -> None:
    kind = kind_named("whole only, all else in single writes")
    before = memory_with(kind, [FIRST, SECOND], [])
    end, at = simulate(kind, applied("later", kind, before, [replace(FIRST, start=760), SECOND], []))
    assert end == "Committed"
    # One request is taken whole or not at all, so nothing has to be disarmed for it.
    assert [(write.function, sorted(write.values)) for write in at.device.record.writes] == [(16, [40, 41, 42, 43])]


def test_two_windows_that_are_only_taken_whole_go_one_by_one_while_nothing_acts() -> None:
    kind = kind_named("whole only, all else in single writes")
    before = memory_with(kind, [FIRST, SECOND], [])
    end, at = simulate(kind, applied("both", kind, before, [replace(FIRST, start=760), MOVED], []))
    assert end == "Committed"
    assert [(write.function, sorted(write.values)) for write in at.device.record.writes] == [
        (6, [20]),
        (16, [40, 41, 42, 43]),
        (16, [44, 45, 46, 47]),
        (6, [20]),
    ]
