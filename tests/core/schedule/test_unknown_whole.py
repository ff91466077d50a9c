"""A change of windows while the value that their power is a percentage of is not known."""

from pathlib import Path

import pytest

from custom_components.chargehand.core.registers import Table, load_map
from custom_components.chargehand.core.schedule.frames import FrameRules
from custom_components.chargehand.core.schedule.stages import NotSafely, schedule_stages
from tests.plain_map import HEAD

MAP = """\
readings:
  battery_level: {input: 0}
  rated: {input: 1, unit: W, name: Rated}
schedule:
  charge:
    windows:
      - start: {holding: 40, layout: hhmm}
        power: {holding: 43, percent_of: rated, min: 0, max: 100}
        end: {holding: 46, layout: hhmm}
"""


def test_what_cannot_be_kept_from_acting_is_refused_and_nothing_else_is_raised(tmp_path: Path) -> None:
    path = tmp_path / "apart.yaml"
    path.write_text(HEAD + MAP)
    points = load_map(path).schedule
    assert points is not None
    held = {(Table.HOLDING, 40): 100, (Table.HOLDING, 46): 500, (Table.HOLDING, 43): 50}
    moved = {(Table.HOLDING, 40): 200, (Table.HOLDING, 46): 600}
    stages = schedule_stages(points, FrameRules(named=set(points.addresses), longest=1))
    known = {**held, (Table.INPUT, 1): 5000}
    assert stages(known, {**known, **moved})[-1].image == {**known, **moved}
    unknown = {**held, (Table.INPUT, 1): 0}
    with pytest.raises(NotSafely):
        stages(unknown, {**unknown, **moved})
