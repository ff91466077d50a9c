"""Charge windows as a list of times and back, against an oracle that plays the list minute by minute.

The list is that of an invented register document: six points, "hhmm, 5 min steps, ascending; point n holds until point n+1, point 6 until
point 1", with a power in W, a level in % and bit 0 for charging in each part. Bit 1 of that register is somebody else's. Register 830 has
the list on in bit 0 and the days from Monday on in bits 1 to 7. The oracle shares no code with what it judges.
"""

import random
from collections.abc import Sequence
from pathlib import Path

import pytest

from custom_components.chargehand.core.registers import SchedulePoints, Table, load_map
from custom_components.chargehand.core.schedule.decision import Found, within_battery
from custom_components.chargehand.core.schedule.draft import Draft, Settings
from custom_components.chargehand.core.schedule.frames import FrameRules, frames
from custom_components.chargehand.core.schedule.image import Image, masks_of, read_schedule, write_schedule
from custom_components.chargehand.core.schedule.protection import Battery
from custom_components.chargehand.core.schedule.request import Rejected, ScheduleRequest, WindowRequest
from custom_components.chargehand.core.schedule.request_check import check, check_edit
from custom_components.chargehand.core.schedule.stages import NotSafely, schedule_stages
from custom_components.chargehand.core.schedule.stopping import ChargeStopped
from custom_components.chargehand.core.schedule.windows import Schedule, Side, Window
from tests.plain_map import HEAD

from .list_oracle import (
    CHARGING,
    DAY,
    ENABLED,
    LEVELS,
    ON_EVERY_DAY,
    POINTS,
    POWERS,
    TIMES,
    Asked,
    Does,
    drawn_list,
    drawn_windows,
    listed,
    play,
    turns,
    wanted,
)

LIST = """
controls:
  list_enabled: {holding: 830, bit: 0}
schedule:
  armed_by: {control: list_enabled}
  step_minutes: 5
  days: {holding: 830, bits: [1, 7]}
  list_of_times:
    count: 6
    fields:
      start: {holding: 831, layout: hhmm}
      power: {holding: 841, min: 0, max: 4600}
      stop_level: {holding: 851, min: 15, max: 100}
      charging: {holding: 861, bit: 0}
"""


def points_of(folder: Path, text: str) -> SchedulePoints:
    path = folder / "listed.yaml"
    path.write_text(f"{HEAD}readings:\n  battery_level: {{input: 0}}\n{text}")
    schedule = load_map(path).schedule
    assert schedule is not None
    return schedule


@pytest.fixture
def points(tmp_path: Path) -> SchedulePoints:
    return points_of(tmp_path, LIST)


def clock(minute: int) -> str:
    return f"{minute // 60:02d}:{minute % 60:02d}"


def request(windows: Sequence[Asked], ahead: int) -> ScheduleRequest:
    """The same windows as the house asks for them, whose clock the inverter's is ahead of."""
    return ScheduleRequest(
        charge=[
            WindowRequest(
                start="00:00" if one.start == one.end else clock((one.start - ahead) % DAY),
                end="24:00" if one.start == one.end else clock((one.end - ahead) % DAY or DAY),
                power=float(one.power),
                stop_level=float(one.level),
            )
            for one in windows
        ]
    )


def image_of(registers: dict[int, int]) -> Image:
    return {(Table.HOLDING, at): value for at, value in registers.items()}


def registers_of(image: Image) -> dict[int, int]:
    return {at: value for (_, at), value in image.items()}


@pytest.mark.parametrize("seed", range(8))
def test_what_a_list_does_is_what_was_asked_for_and_is_read_back(points: SchedulePoints, seed: int) -> None:
    chance = random.Random(seed)
    ends = {"written": 0, "full": 0, "as it was": 0}
    for _ in range(250):
        held, windows, ahead = drawn_list(chance), drawn_windows(chance), chance.choice((0, 60, -120))
        before, does = image_of(held), wanted(held, windows)
        if turns(does) > POINTS:
            with pytest.raises(Rejected) as refused:
                check(points, before, request(windows, ahead), shift=ahead)
            assert [reason.key for reason in refused.value.reasons] == ["list_full"], (held, windows)
            ends["full"] += 1
            continue
        checked = check(points, before, request(windows, ahead), shift=ahead).schedule
        after = write_schedule(points, checked, before, ahead)
        assert read_schedule(points, after, ahead) == checked, (held, windows)
        now = registers_of(after)
        assert {at for at in now if now[at] != held[at]} <= {
            ENABLED,
            *(first + point for first in (TIMES, POWERS, LEVELS, CHARGING) for point in range(POINTS)),
        }
        assert all((now[at] ^ held[at]) & 0b10 == 0 for at in range(CHARGING, CHARGING + POINTS)), "nobody else's bit"
        if after == before:
            ends["as it was"] += 1
            for minute, one in enumerate(does if windows else ()):
                assert play(held)[minute] == one or not (one.charges or play(held)[minute].charges)
            continue
        ends["written"] += 1
        assert play(now) == does, (held, windows)
        assert write_schedule(points, checked, after, ahead) == after
    assert ends["written"] > 100
    assert ends["full"] > 5


PLAIN = listed(
    (30, 0b01, 3000, 90),
    (430, 0b10, 4600, 20),
    (1700, 0, 2000, 40),
    (2000, 0, 4600, 20),
    (2200, 0, 4600, 20),
    (2300, 0, 4600, 20),
)
"""Charging from 00:30 to 04:30, worked by hand."""


def test_a_list_is_read_as_charge_windows_worked_by_hand(points: SchedulePoints) -> None:
    first, *others = read_schedule(points, image_of(PLAIN)).charge
    assert first == Window(start=30, end=270, power=3000.0, stop_level=90.0)
    assert others == [Window()] * 5


def test_a_part_that_goes_on_over_midnight_is_one_window(points: SchedulePoints) -> None:
    rows = [(100, 1, 3000, 90), (500, 0, 4600, 15), (1200, 0, 4600, 15), (1300, 0, 4600, 15), (1400, 0, 4600, 15)]
    night = listed(*rows, (2230, 1, 3000, 90))
    assert read_schedule(points, image_of(night)).charge[0] == Window(
        start=1350, end=300, power=3000.0, stop_level=90.0
    )
    other = listed(*rows, (2230, 1, 2000, 90))
    found = [(one.start, one.end, one.power) for one in read_schedule(points, image_of(other)).charge if one.used]
    assert found == [(60, 300, 3000.0), (1350, 60, 2000.0)]


def test_a_new_window_of_a_list_needs_its_power_and_level(points: SchedulePoints) -> None:
    """The list has none for a place that is not used, so there is none to keep."""
    two = ScheduleRequest(charge=[WindowRequest(start="01:00", end="02:00"), WindowRequest(start="03:00", end="04:00")])
    with pytest.raises(Rejected) as refused:
        check(points, image_of(PLAIN), two)
    assert [(reason.key, reason.values["what"]) for reason in refused.value.reasons] == [
        ("limit_not_held", "charge_window_2_power"),
        ("limit_not_held", "charge_window_2_stop_level"),
    ]


def test_what_the_map_does_not_allow_is_carried_to_no_other_point(points: SchedulePoints) -> None:
    """Another hand has set the part between beyond the document: 0 to 4600 W, 15 to 100 %."""
    held = {**PLAIN, POWERS + 1: 6000, LEVELS + 1: 5}
    asked = check(points, image_of(held), request([Asked(60, 300, 3000, 90)], 0)).schedule
    after = registers_of(write_schedule(points, asked, image_of(held)))
    written = {at: value for at, value in after.items() if value != held[at]}
    assert all(value <= 4600 for at, value in written.items() if at in range(POWERS, POWERS + 6))
    assert all(value >= 15 for at, value in written.items() if at in range(LEVELS, LEVELS + 6))


def test_a_list_that_is_there_already_is_not_written(points: SchedulePoints) -> None:
    held = image_of(PLAIN)
    asked = [Asked(30, 270, 3000, 90)]
    assert write_schedule(points, check(points, held, request(asked, 0)).schedule, held) == held


def test_as_few_registers_are_written_as_can_be(points: SchedulePoints) -> None:
    held = image_of(PLAIN)
    after = write_schedule(points, check(points, held, request([Asked(30, 270, 3000, 80)], 0)).schedule, held)
    changed = {at: value for at, value in registers_of(after).items() if value != PLAIN[at]}
    # The level of the first part, and what the third one had besides the other parts between.
    assert changed == {LEVELS: 80, POWERS + 2: 4600, LEVELS + 2: 20}


@pytest.mark.parametrize(
    "times", [(0, 2575, 400, 500, 600, 700), (0, 100, 100, 200, 300, 400), (100, 0, 200, 300, 400, 500)]
)
def test_a_list_whose_times_say_nothing_is_not_readable_and_can_be_overwritten(
    points: SchedulePoints, times: tuple[int, ...]
) -> None:
    held = image_of(listed(*((time, 1, 3000, 90) for time in times)))
    schedule = read_schedule(points, held)
    assert not any(window.readable for window in schedule.charge)
    checked = check(points, held, request([Asked(60, 120, 3000, 90)], 0)).schedule
    after = registers_of(write_schedule(points, checked, held))
    assert play(after) == wanted(registers_of(held), [Asked(60, 120, 3000, 90)])
    stopped = ChargeStopped().target(Found(points=points, image=held, battery=Battery(), shift=0))
    assert registers_of(stopped.image) == registers_of(held) | {ENABLED: ON_EVERY_DAY - 1}, "only disarmed"


def test_a_point_to_spare_that_is_on_no_step_is_moved(points: SchedulePoints) -> None:
    held = {**PLAIN, TIMES + 4: 2203}
    asked = [Asked(30, 300, 3000, 90)]
    checked = check(points, image_of(held), request(asked, 0)).schedule
    assert play(registers_of(write_schedule(points, checked, image_of(held)))) == wanted(held, asked)


def test_a_list_of_some_days_becomes_daily_once_it_is_written(points: SchedulePoints) -> None:
    # Bits 1 to 7 are Monday to Sunday: Monday and Sunday.
    held = image_of({**PLAIN, ENABLED: 0b10000011})
    assert read_schedule(points, held).charge[0].days == (0, 6)
    checked = check(points, held, request([Asked(30, 300, 3000, 90)], 0)).schedule
    assert checked.charge[0].days is None
    after = write_schedule(points, checked, held)
    assert registers_of(after)[ENABLED] == ON_EVERY_DAY
    assert read_schedule(points, after) == checked
    # What is only disarmed keeps its days.
    stopped = ChargeStopped().target(Found(points=points, image=held, battery=Battery(), shift=0))
    assert registers_of(stopped.image) == {**PLAIN, ENABLED: 0b10000010}


TWO = [Asked(30, 270, 3000, 90), Asked(600, 660, 2000, 60)]


def holding(points: SchedulePoints, windows: Sequence[Asked]) -> Image:
    held = image_of(PLAIN)
    return write_schedule(points, check(points, held, request(windows, 0)).schedule, held)


def edited(points: SchedulePoints, held: Image, place: int, settings: Settings) -> tuple[Schedule, list[Does]]:
    """The schedule that an edit of one window leads to, read back, and what the inverter does then."""
    schedule = read_schedule(points, held)
    draft = Draft(base=schedule).edited(points, schedule, (Side.CHARGE, place), settings)
    checked = check_edit(points, held, draft.upon(schedule))
    after = write_schedule(points, checked, held)
    assert read_schedule(points, after) == checked
    return checked, play(registers_of(after))


def test_a_window_that_is_edited_takes_the_place_of_its_start(points: SchedulePoints) -> None:
    held = holding(points, TWO)
    schedule, does = edited(points, held, 2, {"start": 0, "end": 20})
    assert [(one.start, one.end, one.power) for one in schedule.charge if one.used] == [
        (0, 20, 2000.0),
        (30, 270, 3000.0),
    ]
    assert does == wanted(registers_of(held), [TWO[0], Asked(0, 20, 2000, 60)])


def test_a_new_window_is_drafted_in_a_place_that_is_not_used(points: SchedulePoints) -> None:
    held = holding(points, TWO)
    schedule, does = edited(points, held, 5, {"start": 1200})
    # Limits that it never had are those of the map, up to which it charges.
    assert [(one.start, one.end) for one in schedule.charge if one.used] == [(30, 270), (600, 660), (1200, DAY)]
    assert does == wanted(registers_of(held), [*TWO, Asked(1200, 0, 4600, 100)])


def test_a_window_is_taken_off_also_where_nothing_new_may_be_charged(points: SchedulePoints) -> None:
    held = holding(points, TWO)
    schedule, does = edited(points, held, 1, {"active": False})
    assert [one.start for one in schedule.charge if one.used] == [600]
    assert does == wanted(registers_of(held), TWO[1:])
    cold = Found(points=points, image=held, battery=Battery(temperature=-5.0), shift=0)
    # What was the second window is the first now, and no new one for that.
    assert registers_of(within_battery(cold, schedule).image)[ENABLED] == ON_EVERY_DAY
    with pytest.raises(Rejected):
        within_battery(cold, edited(points, held, 5, {"start": 1200})[0])


def rules(points: SchedulePoints) -> FrameRules:
    return FrameRules(named=frozenset(points.addresses), longest=123, masks=masks_of(points))


def test_a_list_is_written_while_it_is_switched_off(points: SchedulePoints) -> None:
    held = image_of(PLAIN)
    target = write_schedule(points, check(points, held, request([Asked(0, 300, 2000, 80)], 0)).schedule, held)
    first, second, third = schedule_stages(points, rules(points))(held, target)
    assert registers_of(first.image) == {**PLAIN, ENABLED: ON_EVERY_DAY - 1}
    assert registers_of(second.image) == {**registers_of(target), ENABLED: ON_EVERY_DAY - 1}
    assert third.image == target


def test_a_list_that_cannot_be_switched_off_takes_only_what_one_request_can_do(tmp_path: Path) -> None:
    bare = points_of(tmp_path, LIST[LIST.index("schedule:") :].replace("  armed_by: {control: list_enabled}\n", ""))
    held = image_of(PLAIN)
    stages = schedule_stages(bare, rules(bare))
    one = {**held, (Table.HOLDING, LEVELS): 80}
    assert [len(frames(held, stage.image, rules(bare))) for stage in stages(held, one)] == [1]
    with pytest.raises(NotSafely):
        stages(held, {**one, (Table.HOLDING, TIMES): 35})
