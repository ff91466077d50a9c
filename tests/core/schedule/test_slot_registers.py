"""What slots are used for, and on which days, worked by hand from an invented register document.

Slots of six registers from 300 on: mode (0 off, 1 charge, 2 discharge, 3 hold), days (bit 0 Monday to bit 6 Sunday), start and duration in
minutes, power in W, target level in 0.1 %. Slots 1 and 2 are the map's charge windows, 3 its discharge window. Register 400 lets them act.
"""

from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path

import pytest

from custom_components.chargehand.core.registers import SchedulePoints, Table, load_map
from custom_components.chargehand.core.schedule.acting_image import acting_windows
from custom_components.chargehand.core.schedule.acting_times import acting_times
from custom_components.chargehand.core.schedule.decision import Found
from custom_components.chargehand.core.schedule.draft import Draft
from custom_components.chargehand.core.schedule.image import read_schedule, write_schedule
from custom_components.chargehand.core.schedule.protection import Battery
from custom_components.chargehand.core.schedule.request import Rejected, ScheduleRequest, WindowRequest
from custom_components.chargehand.core.schedule.request_check import check
from custom_components.chargehand.core.schedule.stopping import ChargeStopped, charges
from custom_components.chargehand.core.schedule.windows import Side, changes
from tests.plain_map import HEAD

type Registers = dict[tuple[Table, int], int]

FIELDS = """
    count: {count}
    holding: {first}
    stride: 6
    written_whole: true
    fields:
      mode: {{at: 0, charge: 1, discharge: 2, hold: 3, none: 0}}
      days: {{at: 1, bits: [0, 6]}}
      start: {{at: 2, layout: minutes}}
      duration: {{at: 3, layout: minutes}}
      power: {{at: 4, min: 100, max: 10000}}
      stop_level: {{at: 5, scale: 0.1, min: 10, max: 100}}
"""
SLOTS = f"""
controls:
  scheduler: {{holding: 400, bit: 0}}
schedule:
  armed_by: {{control: scheduler}}
  charge:{FIELDS.format(count=2, first=300)}
  discharge:{FIELDS.format(count=1, first=312)}
"""
EVERY = 0b1111111
WORKDAYS = 0b0011111

NIGHT = [1, EVERY, 1380, 360, 3000, 900]
"""Charging from 23:00 for six hours with 3000 W to 90 %, every day."""
OFF = [0, 0, 0, 0, 3000, 900]
HOLD = [3, EVERY, 1020, 180, 0, 500]
"""Holding from 17:00 for three hours."""


@pytest.fixture
def points(tmp_path: Path) -> SchedulePoints:
    path = tmp_path / "slots.yaml"
    path.write_text(f"{HEAD}readings:\n  battery_level: {{input: 0}}\n{SLOTS}")
    schedule = load_map(path).schedule
    assert schedule is not None
    return schedule


def image(*slots: list[int], armed: int = 1) -> Registers:
    """The registers of three slots, and what lets them act."""
    held = {400: armed} | dict(enumerate((value for slot in slots for value in slot), start=300))
    return at(held)


def at(registers: Mapping[int, int]) -> Registers:
    return {(Table.HOLDING, address): value for address, value in registers.items()}


def asked(start: str, end: str) -> WindowRequest:
    return WindowRequest(start=start, end=end, power=2000.0, stop_level=80.0)


def test_a_mode_of_its_side_is_a_window_and_none_is_not(points: SchedulePoints) -> None:
    schedule = read_schedule(points, image(NIGHT, OFF, [2, EVERY, 60, 60, 500, 300]))
    assert [(one.used, one.start, one.end) for one in schedule.charge] == [(True, 1380, 300), (False, 0, 0)]
    assert schedule.discharge[0].used


@pytest.mark.parametrize(("mode", "use"), [(3, "hold"), (2, "discharge"), (7, "7")])
def test_another_mode_is_no_window_and_says_what_it_is(points: SchedulePoints, mode: int, use: str) -> None:
    held = read_schedule(points, image([mode, EVERY, 1020, 180, 0, 500], OFF, OFF))
    first = held.charge[0]
    assert (first.used, first.readable, first.other_use) == (False, True, use)
    assert not acting_times(held, lambda at: at.replace(tzinfo=None), 0, *A_DAY)
    # An inverter in another mode does something all the same, so that a change of it is not made by the way.
    assert acting_windows(points)[0].state(image([mode, EVERY, 1020, 180, 0, 500], OFF, OFF)) is not None


A_DAY = datetime(2026, 11, 23, tzinfo=UTC), datetime(2026, 11, 24, tzinfo=UTC)
"""A Monday."""


def test_another_mode_is_left_alone_by_a_change_of_another_slot(points: SchedulePoints) -> None:
    held = image(OFF, HOLD, OFF)
    checked = check(points, held, ScheduleRequest(discharge=[asked("20:00", "21:00")]))
    written = write_schedule(points, checked.schedule, held)
    assert written == image(OFF, HOLD, [2, EVERY, 1200, 60, 2000, 800])


def test_a_whole_side_that_is_asked_for_takes_its_slots_over(points: SchedulePoints) -> None:
    held = image(HOLD, HOLD, OFF)
    written = write_schedule(
        points, check(points, held, ScheduleRequest(charge=[asked("01:00", "02:00")])).schedule, held
    )
    assert written == image([1, EVERY, 60, 60, 2000, 800], [0, EVERY, 1020, 180, 0, 500], OFF)


def test_a_window_does_not_overlap_what_another_slot_does(points: SchedulePoints) -> None:
    with pytest.raises(Rejected) as refused:
        check(points, image(OFF, HOLD, OFF), ScheduleRequest(discharge=[asked("19:00", "21:00")]))
    (reason,) = refused.value.reasons
    assert (reason.key, reason.values["use"]) == ("overlap_other_use", "hold")


def test_another_mode_by_another_hand_is_a_change(points: SchedulePoints) -> None:
    was, now = (read_schedule(points, image(NIGHT, slot, OFF)) for slot in (OFF, HOLD))
    told = {change.what: (change.was, change.now) for change in changes(was, now)}
    assert told["charge_window_2_other_use"] == (None, "hold")
    assert told["charge_window_2_start"] == ("00:00", "17:00")


def test_an_edit_of_a_slot_that_does_something_else_takes_nothing_of_it(points: SchedulePoints) -> None:
    held = read_schedule(points, image(HOLD, OFF, OFF))
    draft = Draft(base=held).edited(points, held, (Side.CHARGE, 1), {"active": True})
    window = draft.windows[Side.CHARGE, 1]
    assert (window.used, window.other_use) == (True, None)
    assert (window.start, window.end) != (1020, 1200)
    off = Draft(base=held).edited(points, held, (Side.CHARGE, 1), {"active": False})
    assert write_schedule(points, off.upon(held), image(HOLD, OFF, OFF))[Table.HOLDING, 300] == 0


def test_charging_in_a_discharge_slot_is_stopped_too(points: SchedulePoints) -> None:
    held = image(OFF, OFF, [1, EVERY, 1020, 180, 2000, 900])
    assert charges(read_schedule(points, held))
    stopped = ChargeStopped().target(Found(points=points, image=held, battery=Battery(), shift=0))
    assert stopped.image == {**held, (Table.HOLDING, 400): 0}
    assert not charges(read_schedule(points, image(HOLD, HOLD, HOLD)))


# ---- days of the week


def test_a_window_of_some_days_acts_on_these_alone(points: SchedulePoints) -> None:
    held = read_schedule(points, image([1, WORKDAYS, 1380, 360, 3000, 900], OFF, OFF))
    assert held.charge[0].days == (0, 1, 2, 3, 4)
    week = datetime(2026, 11, 23, 12, tzinfo=UTC), datetime(2026, 11, 30, 12, tzinfo=UTC)
    found = acting_times(held, lambda at: at.replace(tzinfo=None), 0, *week)
    # 23 November 2026 is a Monday (datetime.weekday, Python's own).
    assert [one.scheduled.day for one in found] == [23, 24, 25, 26, 27]


def test_what_stays_keeps_its_days_and_what_is_written_gets_every_day(points: SchedulePoints) -> None:
    held = image([1, WORKDAYS, 1380, 360, 3000, 900], [1, 0b1, 600, 60, 3000, 900], OFF)
    schedule = read_schedule(points, held)
    draft = Draft(base=schedule).edited(points, schedule, (Side.CHARGE, 2), {"stop_level": 80.0})
    written = write_schedule(points, draft.upon(schedule), held)
    assert written == image([1, WORKDAYS, 1380, 360, 3000, 900], [1, EVERY, 600, 60, 3000, 800], OFF)


def test_asking_for_a_window_that_is_there_on_some_days_makes_it_daily(points: SchedulePoints) -> None:
    held = image([1, WORKDAYS, 60, 60, 2000, 800], OFF, OFF)
    checked = check(points, held, ScheduleRequest(charge=[asked("01:00", "02:00")])).schedule
    assert write_schedule(points, checked, held) == image([1, EVERY, 60, 60, 2000, 800], OFF, OFF)
    told = [(change.what, change.was, change.now) for change in changes(read_schedule(points, held), checked)]
    assert told == [("charge_window_1_days", "monday,tuesday,wednesday,thursday,friday", "every_day")]


def test_a_window_of_no_day_does_nothing(points: SchedulePoints) -> None:
    held = image([1, 0, 1380, 360, 3000, 900], OFF, OFF)
    assert not read_schedule(points, held).charge[0].used
    assert acting_windows(points)[0].state(held) is None


def test_a_draft_keeps_what_it_knows_of_days_and_uses(points: SchedulePoints) -> None:
    held = read_schedule(points, image([1, WORKDAYS, 1380, 360, 3000, 900], HOLD, OFF))
    draft = Draft(base=held).edited(points, held, (Side.DISCHARGE, 1), {"active": True})
    assert Draft.from_dict(draft.as_dict()) == draft
