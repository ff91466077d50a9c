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


def test_a_power_in_percent_of_what_is_not_known_is_left_as_it_is(tmp_path: Path) -> None:
    text = MAP.replace("schedule:", "  rated: {input: 1, unit: W, name: Rated}\nschedule:")
    path = tmp_path / "listed.yaml"
    path.write_text(f"{HEAD}{text}      power: {{holding: 90, percent_of: rated, min: 0, max: 100}}\n")
    points = load_map(path).schedule
    assert points is not None
    held = {**image_of(5, 5), (Table.HOLDING, 90): 50, (Table.HOLDING, 91): 40, (Table.INPUT, 1): 0}
    points = points.known(held)
    nothing = check(points, held, ScheduleRequest(charge=())).schedule
    assert write_schedule(points, nothing, held) == {**held, **image_of(6, 6)}
