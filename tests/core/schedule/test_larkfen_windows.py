"""The windows of the Larkfen, register by register: values worked by hand from its document (invented), registers numbered as there.

The enable word at 40710 has the bits of the periods beside bits of others. 0xFFFF is an unused period; powers are in % of 5000 W.
"""

from pathlib import Path

import pytest

from custom_components.chargehand.core.registers import RegisterMap, SchedulePoints, Table, load_map
from custom_components.chargehand.core.schedule.frames import FrameRules, frames
from custom_components.chargehand.core.schedule.image import Image, masks_of, read_schedule, upon, write_schedule
from custom_components.chargehand.core.schedule.request import Rejected, ScheduleRequest, WindowRequest
from custom_components.chargehand.core.schedule.request_check import check

MAP = Path(__file__).parents[3] / "custom_components" / "chargehand" / "maps" / "larkfen_lf5.yaml"
UNUSED = 0xFFFF
FOREIGN = 1 << 0 | 1 << 1 | 1 << 5 | 1 << 8 | 1 << 11 | 1 << 15
"""Backup, feed-in limit, buzzer, grid charge, and two bits that the document does not name."""

CHARGE_1, CHARGE_2, DISCHARGE_1 = 1 << 2, 1 << 3, 1 << 4


@pytest.fixture(scope="module")
def larkfen() -> RegisterMap:
    return load_map(MAP)


@pytest.fixture
def points(larkfen: RegisterMap) -> SchedulePoints:
    assert larkfen.schedule is not None
    return larkfen.schedule


def image(word: int, times: tuple[int, ...], limits: tuple[int, int, int, int]) -> Image:
    """The registers 40710, 40720 to 40725 and 40726 to 40729; counted from 1, so one less on the wire."""
    numbers = (710, *range(720, 730))
    return {(Table.HOLDING, number - 1): value for number, value in zip(numbers, (word, *times, *limits), strict=True)}


FACTORY = image(FOREIGN, (UNUSED,) * 6, (50, 100, 50, 10))
USED = image(
    # 23:40 to 05:30 and 12:00 to 13:05 to charge, 17:00 to 18:30 to discharge.
    FOREIGN | CHARGE_1 | CHARGE_2 | DISCHARGE_1,
    (0x1728, 0x051E, 0x0C00, 0x0D05, 0x1100, 0x121E),
    (60, 95, 25, 35),
)
CHARGE = [
    WindowRequest(start="23:40", end="05:30", power=3000, stop_level=95),
    WindowRequest(start="12:00", end="13:05", power=3000, stop_level=95),
]
DISCHARGE = [WindowRequest(start="17:00", end="18:30", power=1250, stop_level=35)]


def after(points: SchedulePoints, before: Image, request: ScheduleRequest) -> Image:
    return write_schedule(points, check(points, before, request).schedule, before)


def test_no_period_is_used_as_it_leaves_the_works(points: SchedulePoints) -> None:
    held = read_schedule(points, FACTORY)
    assert [(one.used, one.readable, one.power, one.stop_level) for one in held.charge] == [
        (False, True, 2500, 100)
    ] * 2
    assert [(one.used, one.readable, one.power, one.stop_level) for one in held.discharge] == [(False, True, 2500, 10)]
    assert held.armed is None, "periods have bits of their own"


def test_periods_are_written_and_read(points: SchedulePoints) -> None:
    assert after(points, FACTORY, ScheduleRequest(charge=CHARGE, discharge=DISCHARGE)) == USED
    held = read_schedule(points, USED)
    assert [(one.start, one.end, one.power, one.stop_level) for one in (*held.charge, *held.discharge)] == [
        (23 * 60 + 40, 5 * 60 + 30, 3000, 95),
        (12 * 60, 13 * 60 + 5, 3000, 95),
        (17 * 60, 18 * 60 + 30, 1250, 35),
    ]


def test_a_period_is_taken_off_by_its_bit_and_keeps_its_times(points: SchedulePoints) -> None:
    less = after(points, USED, ScheduleRequest(charge=CHARGE[:1]))
    assert less == {**USED, (Table.HOLDING, 709): FOREIGN | CHARGE_1 | DISCHARGE_1}


def test_a_bit_of_somebody_else_that_changes_meanwhile_is_left_as_it_is(points: SchedulePoints) -> None:
    target = after(points, FACTORY, ScheduleRequest(charge=CHARGE, discharge=DISCHARGE))
    seen = {**FACTORY, (Table.HOLDING, 709): FOREIGN & ~(1 << 8) | 1 << 12}
    on_it = upon(target, seen, masks_of(points))
    assert on_it[Table.HOLDING, 709] == (FOREIGN & ~(1 << 8) | 1 << 12 | CHARGE_1 | CHARGE_2 | DISCHARGE_1)


def test_the_end_of_the_day_is_the_last_minute_that_a_period_can_name(points: SchedulePoints) -> None:
    evening = [WindowRequest(start="20:00", end="24:00", power=2500, stop_level=100)]
    written = after(points, FACTORY, ScheduleRequest(charge=evening))
    assert (written[Table.HOLDING, 719], written[Table.HOLDING, 720]) == (0x1400, 0x173B)
    assert read_schedule(points, written).charge[0].end == 24 * 60


def test_powers_are_on_steps_of_50_w_and_one_for_both_charge_periods(points: SchedulePoints) -> None:
    first, second = (WindowRequest(start=one.start, end=one.end, power=2960, stop_level=95) for one in CHARGE)
    checked = check(points, FACTORY, ScheduleRequest(charge=[first, second]))
    assert {one.applied for one in checked.adjusted} == {"2950 W"}
    other = WindowRequest(start="12:00", end="13:05", power=2000, stop_level=95)
    with pytest.raises(Rejected) as rejected:
        check(points, FACTORY, ScheduleRequest(charge=[CHARGE[0], other]))
    assert [reason.key for reason in rejected.value.reasons] == ["shared_differs"]
    strong = [WindowRequest(start=one.start, end=one.end, power=5050, stop_level=95) for one in CHARGE]
    with pytest.raises(Rejected, match="out_of_range"):
        check(points, FACTORY, ScheduleRequest(charge=strong))


def test_only_what_differs_is_written_and_the_word_by_itself(larkfen: RegisterMap, points: SchedulePoints) -> None:
    rules = FrameRules(named=points.addresses, longest=larkfen.line.longest_write, masks=masks_of(points))
    sent = frames(FACTORY, USED, rules)
    assert [(one.first + 1, one.values) for one in sent] == [
        (710, (FOREIGN | CHARGE_1 | CHARGE_2 | DISCHARGE_1,)),
        (720, (0x1728, 0x051E, 0x0C00, 0x0D05, 0x1100, 0x121E, 60, 95, 25, 35)),
    ]
