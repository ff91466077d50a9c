"""A change of very many requests is judged in a moment: every further one doubles what the inverter could be left with."""

from pathlib import Path

import pytest

from custom_components.chargehand.core.registers import SchedulePoints, Table, load_map
from custom_components.chargehand.core.schedule.frames import FrameRules, frames
from custom_components.chargehand.core.schedule.image import Image
from custom_components.chargehand.core.schedule.stages import NotSafely, schedule_stages
from tests.plain_map import HEAD

LIST = """\
readings:
  battery_level: {input: 0}
controls:
  list_enabled: {holding: 20, bit: 0, name: List}
schedule:
  armed_by: {control: list_enabled}
  list_of_times:
    count: 24
    fields:
      start: {holding: 40, layout: minutes}
      charging: {holding: 80, bit: 0}
"""
ARMED = (Table.HOLDING, 20)


def points_of(folder: Path, text: str) -> SchedulePoints:
    path = folder / "listed.yaml"
    path.write_text(HEAD + text)
    schedule = load_map(path).schedule
    assert schedule is not None
    return schedule


def image_of(first: int) -> Image:
    times = {(Table.HOLDING, 40 + index): first + 50 * index for index in range(24)}
    return times | {(Table.HOLDING, 80 + index): (index + first) % 2 for index in range(24)}


def one_by_one(points: SchedulePoints) -> FrameRules:
    return FrameRules(named=set(points.addresses), longest=1)


def test_a_list_that_nothing_switches_off_is_refused(tmp_path: Path) -> None:
    bare = LIST[: LIST.index("controls:")] + LIST[LIST.index("schedule:") :].replace(
        "  armed_by: {control: list_enabled}\n", ""
    )
    points = points_of(tmp_path, bare)
    with pytest.raises(NotSafely):
        schedule_stages(points, one_by_one(points))(image_of(0), image_of(5))


@pytest.mark.parametrize("was", [0, 1])
def test_a_list_that_is_switched_off_meanwhile_takes_any_number(tmp_path: Path, was: int) -> None:
    points = points_of(tmp_path, LIST)
    rules = one_by_one(points)
    seen, target = {**image_of(0), ARMED: was}, {**image_of(5), ARMED: 1}
    stages = schedule_stages(points, rules)(seen, target)
    assert stages[-1].image == target
    off = stages[-2].image
    assert off[ARMED] == 0
    assert len(frames(off, target, rules)) == 1
    assert len(frames(seen, off, rules)) >= 48
