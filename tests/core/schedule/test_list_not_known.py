"""A list of times of which the map does not say of each part whether it charges."""

from pathlib import Path

import pytest

from custom_components.chargehand.core.registers import SchedulePoints, Table, load_map
from custom_components.chargehand.core.schedule.image import Image, read_schedule, write_schedule
from custom_components.chargehand.core.schedule.request import ScheduleRequest, WindowRequest
from custom_components.chargehand.core.schedule.request_check import check
from tests.plain_map import HEAD

MAP = """\
readings:
  battery_level: {input: 0}
schedule:
  list_of_times:
    count: 2
    fields:
      start: {holding: 40, layout: hhmm}
      charging: {holding: 80, on: 5, off: 6}
"""
TIMES, CHARGING = 40, 80


@pytest.fixture
def points(tmp_path: Path) -> SchedulePoints:
    path = tmp_path / "listed.yaml"
    path.write_text(HEAD + MAP)
    schedule = load_map(path).schedule
    assert schedule is not None
    return schedule


def image_of(first: int, second: int) -> Image:
    held = {TIMES: 100, TIMES + 1: 500, CHARGING: first, CHARGING + 1: second}
    return {(Table.HOLDING, at): value for at, value in held.items()}


@pytest.mark.parametrize(("first", "second"), [(7, 6), (6, 7), (7, 5), (5, 7), (0, 0)])
def test_a_part_of_which_it_is_not_known_whether_it_charges_is_not_readable(
    points: SchedulePoints, first: int, second: int
) -> None:
    assert [window.readable for window in read_schedule(points, image_of(first, second)).charge] == [False, False]


def test_it_is_overwritten_on_request(points: SchedulePoints) -> None:
    held = image_of(7, 6)
    nothing = check(points, held, ScheduleRequest(charge=())).schedule
    assert write_schedule(points, nothing, held) == image_of(6, 6)
    night = check(points, held, ScheduleRequest(charge=(WindowRequest(start="01:00", end="05:00"),))).schedule
    assert write_schedule(points, night, held) == image_of(5, 6)


def test_what_is_known_is_read(points: SchedulePoints) -> None:
    first, second = read_schedule(points, image_of(5, 6)).charge
    assert (first.start, first.end, first.used, second.used) == (60, 300, True, False)
