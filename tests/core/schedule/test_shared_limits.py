"""One limit for all windows of a side: an inverter with one register for the power of its charge windows, one for their stop level."""

from pathlib import Path

import pytest

from custom_components.chargehand.core.registers import SchedulePoints, Table, load_map
from custom_components.chargehand.core.schedule.acting_image import acting_windows
from custom_components.chargehand.core.schedule.draft import Draft
from custom_components.chargehand.core.schedule.image import Image, read_schedule, write_schedule
from custom_components.chargehand.core.schedule.protection import Battery, protect
from custom_components.chargehand.core.schedule.request import Rejected, ScheduleRequest, WindowRequest
from custom_components.chargehand.core.schedule.request_check import check, check_edit
from custom_components.chargehand.core.schedule.windows import Side, changes
from tests.plain_map import HEAD

MAP = """
readings:
  battery_level: {input: 0}
schedule:
  charge:
    count: 3
    holding: 720
    stride: 2
    fields:
      start: {at: 0, layout: packed, unused: 0xFFFF}
      end: {at: 1, layout: packed, unused: 0xFFFF}
    shared:
      power: {holding: 726, scale: 50, unit: W, min: 0, max: 5000}
      stop_level: {holding: 727, unit: "%", min: 10, max: 100}
  discharge:
    windows:
      - start: {holding: 730, layout: packed}
        end: {holding: 731, layout: packed}
    shared:
      power: {holding: 728, scale: 50, unit: W, min: 0, max: 5000}
"""
FIRST, SECOND = (Side.CHARGE, 1), (Side.CHARGE, 2)


@pytest.fixture
def points(tmp_path: Path) -> SchedulePoints:
    path = tmp_path / "plain.yaml"
    path.write_text(HEAD + MAP)
    schedule = load_map(path).schedule
    assert schedule is not None
    return schedule


def image(*charge: int, power: int = 60, level: int = 90) -> Image:
    """Charge windows as packed times, the rest of them unused; `power` in steps of 50 W."""
    times = (*charge, *[0xFFFF] * (6 - len(charge)))
    registers = dict(enumerate(times, start=720)) | {726: power, 727: level, 728: 40, 730: 0, 731: 0}
    return {(Table.HOLDING, address): value for address, value in registers.items()}


TWO = image(0x0100, 0x0300, 0x0C00, 0x0E00)
"""01:00 to 03:00 and 12:00 to 14:00 at 3000 W to 90 %."""


def asked(start: str, end: str, **limits: float) -> WindowRequest:
    return WindowRequest(start=start, end=end, **limits)


def after(points: SchedulePoints, before: Image, *charge: WindowRequest) -> dict[int, tuple[int, int]]:
    """The registers that a request changes: what was there, and what is there then."""
    checked = check(points, before, ScheduleRequest(charge=charge))
    written = write_schedule(points, checked.schedule, before)
    return {at: (before[table, at], value) for (table, at), value in written.items() if value != before[table, at]}


def test_every_window_of_the_side_has_the_limit_used_or_not(points: SchedulePoints) -> None:
    held = read_schedule(points, TWO)
    assert [(window.power, window.stop_level) for window in held.charge] == [(3000, 90)] * 3
    assert held.discharge[0].power == 2000
    assert held.shared == {(Side.CHARGE, "power"), (Side.CHARGE, "stop_level"), (Side.DISCHARGE, "power")}


def test_a_request_with_several_values_is_refused_with_the_reason(points: SchedulePoints) -> None:
    wanted = [asked("01:00", "03:00", power=2000), asked("12:00", "14:00", power=3000, stop_level=90)]
    with pytest.raises(Rejected) as rejected:
        check(points, TWO, ScheduleRequest(charge=wanted))
    (reason,) = rejected.value.reasons
    assert reason.key == "shared_differs"
    assert reason.values == {"side": "charge", "limit": "power", "values": "2000 W, 3000 W"}


def test_the_inverters_own_value_given_for_one_window_and_another_for_the_next_is_refused(
    points: SchedulePoints,
) -> None:
    wanted = [asked("01:00", "03:00", stop_level=90), asked("12:00", "14:00", stop_level=70)]
    with pytest.raises(Rejected, match="shared_differs"):
        check(points, TWO, ScheduleRequest(charge=wanted))


def test_what_is_stored_alike_is_the_same_value(points: SchedulePoints) -> None:
    wanted = [asked("01:00", "03:00", power=2010), asked("12:00", "14:00", power=1990)]
    assert after(points, TWO, *wanted) == {726: (60, 40)}


def test_a_window_that_leaves_the_limit_out_has_the_others(points: SchedulePoints) -> None:
    wanted = [asked("01:00", "03:00"), asked("12:00", "14:00", power=2000)]
    assert after(points, TWO, *wanted) == {726: (60, 40)}
    checked = check(points, TWO, ScheduleRequest(charge=wanted)).schedule
    assert [window.power for window in checked.charge] == [2000] * 3


def test_a_limit_of_0_is_no_obstacle_where_another_window_gives_one(points: SchedulePoints) -> None:
    zero = image(0x0100, 0x0300, power=0)
    wanted = [asked("01:00", "03:00"), asked("12:00", "14:00", power=2000)]
    assert after(points, zero, *wanted) == {722: (0xFFFF, 0x0C00), 723: (0xFFFF, 0x0E00), 726: (0, 40)}
    with pytest.raises(Rejected, match="limit_missing"):
        check(points, zero, ScheduleRequest(charge=[asked("01:00", "03:00")]))


def test_a_limit_that_no_window_gives_stays(points: SchedulePoints) -> None:
    assert after(points, TWO, asked("01:00", "04:00")) == {
        721: (0x0300, 0x0400),
        722: (0x0C00, 0xFFFF),
        723: (0x0E00, 0xFFFF),
    }


def test_a_change_of_the_limit_is_told_of_each_window(points: SchedulePoints) -> None:
    held = read_schedule(points, TWO)
    now = check(points, TWO, ScheduleRequest(charge=[asked("01:00", "03:00", power=500), asked("12:00", "14:00")]))
    assert [one.what for one in changes(held, now.schedule)] == [
        f"charge_window_{number}_power" for number in (1, 2, 3)
    ]


def test_an_edit_of_one_window_changes_the_limit_of_all(points: SchedulePoints) -> None:
    held = read_schedule(points, TWO)
    draft = Draft(base=held).edited(points, held, FIRST, {"power": 1000})
    assert [window.power for window in draft.upon(held).charge] == [1000] * 3
    draft = draft.edited(points, held, SECOND, {"start": 780}).edited(points, held, SECOND, {"power": 1500})
    assert [window.power for window in draft.upon(held).charge] == [1500] * 3
    draft = draft.edited(points, held, FIRST, {"power": 1250})
    assert [window.power for window in draft.upon(held).charge] == [1250] * 3
    assert draft.upon(held).discharge == held.discharge
    edited = check_edit(points, TWO, draft.upon(held))
    assert write_schedule(points, edited, TWO) == image(0x0100, 0x0300, 0x0D00, 0x0E00, power=25)
    assert Draft.from_dict(draft.as_dict()).upon(held) == draft.upon(held)


def test_a_window_that_nobody_edited_keeps_its_times_when_another_hand_moves_it(points: SchedulePoints) -> None:
    held = read_schedule(points, TWO)
    draft = Draft(base=held).edited(points, held, FIRST, {"power": 1000})
    moved = read_schedule(points, image(0x0100, 0x0300, 0x1000, 0x1200))
    assert [(window.start, window.power) for window in draft.upon(moved).charge] == [(60, 1000), (960, 1000), (0, 1000)]


def test_what_the_battery_takes_lowers_the_limit_once(points: SchedulePoints) -> None:
    held = read_schedule(points, TWO)
    wanted = check(points, TWO, ScheduleRequest(charge=[asked("01:00", "03:30"), asked("12:00", "14:30")])).schedule
    protected = protect(points, held, wanted, Battery(voltage=50, charge_current_limit=25))
    assert [window.power for window in protected.schedule.charge] == [1250] * 3
    assert [one.what for one in protected.adjusted] == ["charge_window_1_power"]


def test_a_change_of_the_limit_concerns_every_window_of_the_side(points: SchedulePoints) -> None:
    lower = {**TWO, (Table.HOLDING, 726): 40}
    first, second, third, other = acting_windows(points)
    assert first.state(TWO) != first.state(lower)
    assert second.state(TWO) != second.state(lower)
    assert third.state(TWO) is third.state(lower) is None
    assert other.says(TWO) == other.says(lower)
    zero = {**TWO, (Table.HOLDING, 726): 0}
    assert first.state(zero) is second.state(zero) is None
