"""What an inverter's registers say of its windows, and back, worked by hand from invented register documents.

The documents write an unused window as 0xFFFF, the hour in the high byte, and switches as two values of a whole register.
"""

from collections.abc import Mapping
from pathlib import Path

import pytest

from custom_components.chargehand.core.registers import SchedulePoints, Table, load_map
from custom_components.chargehand.core.schedule.acting_image import acting_windows, is_armed
from custom_components.chargehand.core.schedule.image import NoRoom, read_schedule, write_schedule
from custom_components.chargehand.core.schedule.request import ScheduleRequest, WindowRequest
from custom_components.chargehand.core.schedule.request_check import check
from custom_components.chargehand.core.schedule.windows import DAY, Schedule, Side, Window
from tests.plain_map import HEAD

type Registers = dict[tuple[Table, int], int]


def at(registers: Mapping[int, int]) -> Registers:
    """Holding registers by their addresses."""
    return {(Table.HOLDING, address): value for address, value in registers.items()}


def schedule_of(folder: Path, text: str) -> SchedulePoints:
    """The schedule of a map that reads nothing else."""
    path = folder / "plain.yaml"
    path.write_text(f"{HEAD}readings:\n  battery_level: {{input: 0}}\n{text}")
    schedule = load_map(path).schedule
    assert schedule is not None
    return schedule


PACKED = """
schedule:
  charge:
    count: 2
    holding: 720
    stride: 2
    fields:
      start: {at: 0, layout: packed, unused: 0xFFFF}
      end: {at: 1, layout: packed, unused: 0xFFFF}
"""


@pytest.fixture
def packed(tmp_path: Path) -> SchedulePoints:
    return schedule_of(tmp_path, PACKED)


TWO = {720: 0x1728, 721: 0x0500, 722: 0xFFFF, 723: 0xFFFF}
"""23:40 to 05:00, and an unused one."""


def test_a_window_marked_as_unused_is_read_as_that(packed: SchedulePoints) -> None:
    first, second = read_schedule(packed, at(TWO)).charge
    assert (first.start, first.end, first.used) == (23 * 60 + 40, 5 * 60, True)
    assert (second.start, second.end, second.used, second.readable) == (0, 0, False, True)


@pytest.mark.parametrize(("start", "end"), [(0xFFFF, 0x0500), (0x0100, 0xFFFF)])
def test_one_marked_time_is_enough(packed: SchedulePoints, start: int, end: int) -> None:
    window = read_schedule(packed, at(TWO | {720: start, 721: end})).charge[0]
    assert (window.used, window.readable) == (False, True)


def test_a_window_is_taken_off_as_the_map_marks_that(packed: SchedulePoints) -> None:
    held = read_schedule(packed, at(TWO))
    empty = held.with_window(Side.CHARGE, 1, held.charge[0].unused())
    assert write_schedule(packed, empty, at(TWO)) == at(dict.fromkeys(TWO, 0xFFFF))


def test_a_used_window_is_written_over_the_mark(packed: SchedulePoints) -> None:
    both = read_schedule(packed, at(TWO)).with_window(Side.CHARGE, 2, Window(start=12 * 60, end=DAY))
    assert write_schedule(packed, both, at(TWO)) == at(TWO | {722: 0x0C00, 723: 0x1800})


def test_a_window_that_is_unused_already_is_left_as_it_is_written(packed: SchedulePoints) -> None:
    held = at(TWO | {722: 0, 723: 0})
    assert write_schedule(packed, read_schedule(packed, held), held) == held


def test_the_first_of_several_marks_is_written_and_all_are_read(tmp_path: Path) -> None:
    points = schedule_of(tmp_path, PACKED.replace("unused: 0xFFFF", "unused: [0x7F7F, 0xFFFF]"))
    held = read_schedule(points, at(TWO))
    assert [window.used for window in held.charge] == [True, False]
    empty = held.with_window(Side.CHARGE, 1, held.charge[0].unused())
    assert write_schedule(points, empty, at(TWO)) == at(TWO | {720: 0x7F7F, 721: 0x7F7F})


def test_what_is_neither_time_nor_mark_is_not_readable(packed: SchedulePoints) -> None:
    first, second = read_schedule(packed, at(TWO | {720: 0x1760})).charge
    assert (first.readable, first.used) == (False, False)
    assert second.readable


def test_only_what_the_map_marks_certainly_keeps_a_window_from_acting(packed: SchedulePoints) -> None:
    first, second = acting_windows(packed)
    assert second.state(at(TWO)) is None
    assert first.state(at(TWO)) is not None
    assert first.state(at(TWO | {721: 0xFFFF})) is None
    assert first.state(at(TWO | {720: 0, 721: 0})) is not None, (
        "the document does not say that 00:00 to 00:00 is unused"
    )


SWITCHED = """
controls:
  timed: {holding: 753, on: 0x55AA, off: 0xAA55}
schedule:
  armed_by: {control: timed}
  charge:
    count: 2
    holding: 720
    stride: 3
    fields:
      start: {at: 0, layout: hhmm}
      end: {at: 1, layout: hhmm}
      active: {at: 2, on: 0x55AA, off: 0xAA55}
"""
ON, OFF = 0x55AA, 0xAA55
ARMED = {720: 100, 721: 500, 722: ON, 723: 2200, 724: 2300, 725: OFF, 753: ON}


@pytest.fixture
def switched(tmp_path: Path) -> SchedulePoints:
    return schedule_of(tmp_path, SWITCHED)


def test_two_values_are_on_and_off(switched: SchedulePoints) -> None:
    held = read_schedule(switched, at(ARMED))
    assert [window.active for window in held.charge] == [True, False]
    assert held.armed is True
    assert read_schedule(switched, at(ARMED | {753: OFF})).armed is False
    other = Schedule(
        charge=tuple(Window(start=w.start, end=w.end, active=not w.active) for w in held.charge), armed=False
    )
    assert write_schedule(switched, other, at(ARMED)) == at(ARMED | {722: OFF, 725: ON, 753: OFF})


@pytest.mark.parametrize("value", [0, 1, 0xFFFF])
def test_any_other_value_is_neither_and_left_alone(switched: SchedulePoints, value: int) -> None:
    odd = at(ARMED | {722: value, 753: value})
    held = read_schedule(switched, odd)
    assert (held.charge[0].readable, held.charge[0].used, held.charge[1].readable) == (False, False, True)
    assert held.armed is None
    assert is_armed(switched, odd), "what cannot be read may act"
    assert acting_windows(switched)[0].state(odd) is not None
    assert write_schedule(switched, held, odd) == odd


def test_a_value_that_is_neither_is_overwritten_on_request(switched: SchedulePoints) -> None:
    odd = at(ARMED | {722: 3, 753: 3})
    asked = ScheduleRequest(charge=[WindowRequest(start="02:00", end="04:00")])
    after = write_schedule(switched, check(switched, odd, asked).schedule, odd)
    assert after == at(ARMED | {720: 200, 721: 400, 722: ON, 725: OFF, 753: ON})
    emptied = write_schedule(switched, check(switched, odd, ScheduleRequest(charge=[])).schedule, odd)
    assert emptied == at(ARMED | {720: 0, 721: 0, 722: OFF, 753: ON})


LASTING = """
schedule:
  charge:
    count: 2
    holding: 0x302
    stride: 6
    fields:
      start: {at: 0, layout: minutes}
      duration: {at: 1, layout: minutes}
"""


@pytest.mark.parametrize(
    ("start", "minutes", "times"),
    [
        (60, 120, (60, 180)),
        (1380, 60, (1380, DAY)),
        (1380, 240, (1380, 180)),
        (0, 1440, (0, DAY)),
        (0, 300, (0, 300)),
    ],
)
def test_a_duration_is_the_time_to_the_end(tmp_path: Path, start: int, minutes: int, times: tuple[int, int]) -> None:
    points = schedule_of(tmp_path, LASTING)
    held = at({0x302: start, 0x303: minutes, 0x308: 0, 0x309: 0})
    window = read_schedule(points, held).charge[0]
    assert (window.start, window.end, window.minutes) == (*times, minutes)
    empty = at({0x302: 77, 0x303: 0, 0x308: 0, 0x309: 0})
    other = read_schedule(points, empty).with_window(Side.CHARGE, 1, Window(start=times[0], end=times[1]))
    assert write_schedule(points, other, empty) == held


def test_a_whole_day_may_begin_at_any_minute(tmp_path: Path) -> None:
    points = schedule_of(tmp_path, LASTING)
    held = at({0x302: 60, 0x303: 1440, 0x308: 0, 0x309: 0})
    schedule = read_schedule(points, held)
    assert (schedule.charge[0].start, schedule.charge[0].end) == (0, DAY)
    assert write_schedule(points, schedule, held) == held


def test_a_duration_of_0_is_an_unused_window_whatever_its_start_holds(tmp_path: Path) -> None:
    points = schedule_of(tmp_path, LASTING)
    held = at({0x302: 60, 0x303: 90, 0x308: 0xFFFF, 0x309: 0})
    schedule = read_schedule(points, held)
    assert [(one.used, one.readable) for one in schedule.charge] == [(True, True), (False, True)]
    empty = schedule.with_window(Side.CHARGE, 1, schedule.charge[0].unused())
    assert write_schedule(points, empty, held) == held | at({0x303: 0}), "its start says nothing then, and stays"
    first, second = acting_windows(points)
    assert first.state(held) is not None
    assert second.state(held) is None


@pytest.mark.parametrize(("start", "minutes"), [(60, 1441), (1500, 60), (60, 0xFFFF)])
def test_a_duration_or_start_that_cannot_be_is_not_readable(tmp_path: Path, start: int, minutes: int) -> None:
    points = schedule_of(tmp_path, LASTING)
    first, second = read_schedule(points, at({0x302: start, 0x303: minutes, 0x308: 10, 0x309: 10})).charge
    assert not first.readable
    assert second.used


def test_windows_by_duration_may_last_the_whole_day_where_midnight_is_written_as_0(tmp_path: Path) -> None:
    points = schedule_of(tmp_path, LASTING.replace("schedule:", 'schedule:\n  latest_end: "00:00"'))
    empty = dict.fromkeys(points.addresses, 0)
    asked = ScheduleRequest(charge=[WindowRequest(start="00:00", end="24:00")])
    assert write_schedule(points, check(points, empty, asked).schedule, empty)[Table.HOLDING, 0x303] == 1440


def test_the_morning_of_a_split_window_is_not_put_where_nothing_can_be_read(tmp_path: Path) -> None:
    points = schedule_of(tmp_path, PACKED.replace("schedule:", "schedule:\n  crosses_midnight: false"))
    odd = at({720: 0x0100, 721: 0x0200, 722: 0x1760, 723: 0x0500})
    night = read_schedule(points, odd).with_window(Side.CHARGE, 1, Window(start=23 * 60, end=2 * 60))
    with pytest.raises(NoRoom):
        write_schedule(points, night, odd)
    free = odd | at({722: 0xFFFF, 723: 0xFFFF})
    night = read_schedule(points, free).with_window(Side.CHARGE, 1, Window(start=23 * 60, end=2 * 60))
    assert write_schedule(points, night, free) == at({720: 0x1700, 721: 0x1800, 722: 0, 723: 0x0200})
