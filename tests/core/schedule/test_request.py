"""A request is checked as a whole before anything is sent; every fault is listed by name."""

from dataclasses import replace
from pathlib import Path

import pytest

from custom_components.chargehand.core.registers import SchedulePoints, load_map
from custom_components.chargehand.core.schedule import request_check
from custom_components.chargehand.core.schedule.image import Image, read_schedule, write_schedule
from custom_components.chargehand.core.schedule.request import Rejected, ScheduleRequest, WindowRequest
from custom_components.chargehand.core.schedule.request_check import Checked
from custom_components.chargehand.core.schedule.windows import DAY, Schedule, Side, Window, changes
from tests.bench.teasel import CHARGE, CONTROL_WORD
from tests.teasel import FACTORY, registers

MAPS = Path(__file__).parents[3] / "custom_components" / "chargehand" / "maps"


def image_of(points: SchedulePoints, held: Schedule, shift: int = 0) -> Image:
    """The registers of an inverter that holds a schedule."""
    return write_schedule(points, held, dict.fromkeys(points.addresses, 0), shift)


def check(points: SchedulePoints, held: Schedule, request: ScheduleRequest, **more: float) -> Checked:
    return request_check.check(points, image_of(points, held, int(more.get("shift", 0))), request, **more)


def check_edit(points: SchedulePoints, held: Schedule, edited: Schedule) -> Schedule:
    return request_check.check_edit(points, image_of(points, held), edited)


@pytest.fixture(scope="module")
def points() -> SchedulePoints:
    schedule = load_map(MAPS / "teasel_t5.yaml").schedule
    assert schedule is not None
    return schedule


@pytest.fixture
def held(points: SchedulePoints) -> Schedule:
    """Armed, one window 22:40-02:20 at 2000 W to 100 %, as a Teasel starts."""
    image = dict.fromkeys(points.addresses, 0)
    table = points.addresses[0][0]
    image |= {(table, CONTROL_WORD): 1}
    image |= {(table, CHARGE[0].start + at): value for at, value in enumerate(FACTORY)}
    return read_schedule(points, image)


@pytest.fixture(scope="module")
def in_amperes() -> SchedulePoints:
    """A Burdock's schedule: its charge windows take half amperes."""
    schedule = load_map(MAPS / "burdock_b3.yaml").schedule
    assert schedule is not None
    return schedule


@pytest.fixture
def unused(in_amperes: SchedulePoints) -> Schedule:
    """No window of the Burdock is used; the first holds a limit of 40 A, 80 half amperes."""
    image = dict.fromkeys(in_amperes.addresses, 0)
    return read_schedule(in_amperes, image | {(in_amperes.addresses[0][0], 122): 80})


def window(start: object = "23:10", end: object = "03:40", **limits: float) -> WindowRequest:
    return WindowRequest(start=start, end=end, **({"power": 3000.0, "stop_level": 95.0} | limits))


def reasons(points: SchedulePoints, held: Schedule, request: ScheduleRequest, **more: float) -> list[str]:
    with pytest.raises(Rejected) as rejected:
        check(points, held, request, **more)
    return [reason.key for reason in rejected.value.reasons]


def test_a_window_over_midnight_lasts_as_long_as_the_contract_says() -> None:
    night = Window(start=23 * 60 + 10, end=3 * 60 + 40)
    assert night.minutes == 4 * 60 + 30
    assert night.covers(23 * 60 + 10)
    assert night.covers(0)
    assert night.covers(3 * 60 + 39)
    assert not night.covers(3 * 60 + 40)


def test_windows_asked_for_take_the_places_in_order_and_the_rest_become_unused(
    points: SchedulePoints, held: Schedule
) -> None:
    checked = check(points, held, ScheduleRequest(charge=[window(), window("12:00", "13:00")]))
    assert [(w.start, w.end) for w in checked.schedule.charge] == [(1390, 220), (720, 780), (0, 0), (0, 0)]
    assert checked.schedule.discharge == held.discharge
    assert checked.schedule.armed is True
    assert checked.adjusted == ()


def test_a_side_left_out_stays_and_an_empty_one_is_cleared(points: SchedulePoints, held: Schedule) -> None:
    assert check(points, held, ScheduleRequest(discharge=[])).schedule.charge == held.charge
    cleared = check(points, held, ScheduleRequest(charge=[])).schedule
    assert not any(w.used for w in cleared.charge)
    assert cleared.charge[0].power == 2000.0, "limits of an unused window are left alone"


@pytest.mark.parametrize(
    ("start", "end", "expected"),
    [
        ("18:00", "00:00", (1080, DAY)),
        ("18:00", "24:00", (1080, DAY)),
        ("00:00", "24:00", (0, DAY)),
        ("00:00", "05:00", (0, 300)),
        ("23:10:00", "03:40:00", (1390, 220)),
        (" 7:05", "8:00", (425, 480)),
    ],
)
def test_times_are_read_as_people_write_them(
    points: SchedulePoints, held: Schedule, start: str, end: str, expected: tuple[int, int]
) -> None:
    first = check(points, held, ScheduleRequest(charge=[window(start, end)])).schedule.charge[0]
    assert (first.start, first.end) == expected


@pytest.mark.parametrize(
    ("windows", "key"),
    [
        ([window("24:30", "05:00")], "no_time"),
        ([window("23:10", "5")], "no_time"),
        ([window("23:60", "05:00")], "no_time"),
        ([window("-1:00", "05:00")], "no_time"),
        ([window("23:10:30", "05:00")], "no_time"),
        ([window("²3:40", "05:00")], "no_time"),
        ([window(1420, "05:00")], "time_not_text"),
        ([window(None, "05:00")], "time_not_text"),
        ([window("24:00", "05:00")], "start_at_24"),
        ([window("05:00", "05:00")], "no_length"),
        ([window("00:00", "00:00")], "no_length"),
        ([window(power=5001)], "out_of_range"),
        ([window(power=-1)], "out_of_range"),
        ([window(power=float("nan"))], "not_a_number"),
        ([window(stop_level=5)], "out_of_range"),
        ([window(current=40)], "current_and_power"),
        ([window("01:00", "03:00"), window("02:59", "04:00")], "overlap"),
        ([window("23:00", "01:00"), window("00:30", "02:00")], "overlap"),
        ([window("00:00", "24:00"), window("12:00", "12:01")], "overlap"),
        ([window(f"0{hour}:00", f"0{hour}:30") for hour in range(1, 6)], "too_many_windows"),
    ],
)  # fmt: skip
def test_what_cannot_be_on_the_inverter_is_refused_by_name(
    points: SchedulePoints, held: Schedule, windows: list[WindowRequest], key: str
) -> None:
    assert reasons(points, held, ScheduleRequest(charge=windows)) == [key]


def test_all_faults_of_a_request_are_listed_at_once(points: SchedulePoints, held: Schedule) -> None:
    request = ScheduleRequest(
        charge=[window("24:30", "05:00"), window(power=25_000), window("03:00", "03:00")],
        discharge=[window(1420, "x")],
    )
    assert reasons(points, held, request) == ["no_time", "out_of_range", "no_length", "time_not_text", "no_time"]


def test_windows_that_touch_do_not_overlap(points: SchedulePoints, held: Schedule) -> None:
    check(points, held, ScheduleRequest(charge=[window("01:00", "02:00"), window("02:00", "03:00")]))


def test_a_discharge_window_over_a_charge_window_is_refused(points: SchedulePoints, held: Schedule) -> None:
    assert reasons(points, held, ScheduleRequest(discharge=[window("02:19", "06:00")])) == ["overlap"]


def test_an_overlap_that_stood_there_before_does_not_block_another_change(points: SchedulePoints) -> None:
    both = Window(start=60, end=120, power=500.0, stop_level=90.0)
    none = Window(power=0.0, stop_level=0.0)
    held = Schedule(charge=(both, both, none, none), discharge=(none, none), armed=True)
    check(points, held, ScheduleRequest(discharge=[window("12:00", "13:00")]))


def test_a_time_off_the_step_is_refused(points: SchedulePoints, held: Schedule) -> None:
    coarse = replace(points, step_minutes=15)
    assert reasons(coarse, held, ScheduleRequest(charge=[window("23:10", "03:45")])) == ["not_on_step"]


def test_a_window_over_midnight_takes_two_places_where_the_inverter_cannot_cross_it(
    points: SchedulePoints, held: Schedule
) -> None:
    daily = replace(points, crosses_midnight=False)
    nights = [window(), window("06:00", "07:00"), window("08:00", "09:00"), window("10:00", "11:00")]
    assert reasons(daily, held, ScheduleRequest(charge=nights)) == ["no_room"]
    empty = dict.fromkeys(points.addresses, 0)
    wanted = check(daily, held, ScheduleRequest(charge=nights[:2])).schedule
    image = write_schedule(daily, wanted, empty)
    table = points.addresses[0][0]
    assert [image[table, address] for address in range(740, 752)] == [
        *registers("23:10", "24:00", 3000, 95),
        *registers("06:00", "07:00", 3000, 95),
        *registers("00:00", "03:40", 3000, 95),
    ]
    shown = read_schedule(daily, image)
    assert [(one.start, one.end, one.used) for one in shown.charge] == [
        (1390, 220, True),
        (360, 420, True),
        (0, 0, False),
        (0, 0, False),
    ]
    assert write_schedule(daily, shown, image) == image, "writing what is there changes nothing"


@pytest.mark.parametrize("shift", [0, 60, -60])
def test_what_is_split_on_the_inverters_clock_is_one_window_to_the_user(
    points: SchedulePoints, held: Schedule, shift: int
) -> None:
    daily = replace(points, crosses_midnight=False)
    empty = dict.fromkeys(points.addresses, 0)
    for start, end in [(1390, 220), (1410, 30), (0, 60), (1380, DAY), (0, DAY), (1439, 1)]:
        wanted = replace(
            held, charge=(Window(start=start, end=end, power=50.0, stop_level=50.0), *held.charge[1:]), armed=False
        )
        image = write_schedule(daily, wanted, empty, shift)
        first = read_schedule(daily, image, shift).charge[0]
        assert (first.start, first.end) == (start, end)


def test_a_power_is_rounded_to_what_the_register_can_hold_and_that_is_reported(
    points: SchedulePoints, held: Schedule
) -> None:
    checked = check(points, held, ScheduleRequest(charge=[window(power=1666.6)]))
    assert checked.schedule.charge[0].power == 1667
    (adjusted,) = checked.adjusted
    assert (adjusted.what, adjusted.requested, adjusted.applied, adjusted.why) == (
        "charge_window_1_power",
        "1666.6 W",
        "1667 W",
        "rounded",
    )


def test_a_current_is_rounded_to_what_the_register_can_hold_and_that_is_reported(
    in_amperes: SchedulePoints, unused: Schedule
) -> None:
    one = WindowRequest(start="01:00", end="05:00", current=33.33, stop_level=95.0)
    checked = check(in_amperes, unused, ScheduleRequest(charge=[one]))
    assert checked.schedule.charge[0].current == 33.5
    (adjusted,) = checked.adjusted
    assert (adjusted.what, adjusted.requested, adjusted.applied, adjusted.why) == (
        "charge_window_1_current",
        "33.33 A",
        "33.5 A",
        "rounded",
    )


def test_watts_become_amperes_through_the_battery_voltage_and_that_is_reported(
    in_amperes: SchedulePoints, unused: Schedule
) -> None:
    """P = V x I: 2 560 W at 51.2 V, the nominal voltage of 16 LiFePO4 cells (common practice), are 50 A."""
    request = ScheduleRequest(charge=[WindowRequest(start="01:00", end="05:00", power=2560.0, stop_level=95.0)])
    checked = check(in_amperes, unused, request, voltage=51.2)
    assert checked.schedule.charge[0].current == 50.0
    assert [item.why for item in checked.adjusted] == ["watts_to_amperes"]
    assert reasons(in_amperes, unused, request) == ["no_voltage"]


def test_amperes_become_watts_through_the_battery_voltage_and_that_is_reported(
    points: SchedulePoints, held: Schedule
) -> None:
    """P = V x I, the other way round."""
    request = ScheduleRequest(charge=[WindowRequest(start="01:00", end="05:00", current=50.0, stop_level=95.0)])
    checked = check(points, held, request, voltage=51.2)
    assert checked.schedule.charge[0].power == 2560.0
    assert [item.why for item in checked.adjusted] == ["amperes_to_watts"]
    assert reasons(points, held, request) == ["no_voltage"]


def test_watts_that_are_too_many_are_named_as_they_were_asked_for(in_amperes: SchedulePoints, unused: Schedule) -> None:
    """P = V x I: 20 000 W at 52 V are 384.6 A."""
    request = ScheduleRequest(charge=[WindowRequest(start="01:00", end="05:00", power=20_000.0, stop_level=95.0)])
    with pytest.raises(Rejected) as rejected:
        check(in_amperes, unused, request, voltage=52.0)
    (reason,) = rejected.value.reasons
    assert reason.key == "converted_out_of_range"
    named = {name: reason.values[name] for name in ("asked", "value", "unit", "maximum")}
    assert named == {"asked": "20000 W", "value": "384.6", "unit": "A", "maximum": "100"}


def test_a_limit_left_out_stays_as_the_inverter_has_it_or_is_asked_for(points: SchedulePoints, held: Schedule) -> None:
    bare = WindowRequest(start="23:10", end="03:40")
    kept = check(points, held, ScheduleRequest(charge=[bare])).schedule.charge[0]
    assert (kept.power, kept.stop_level) == (2000.0, 100.0)
    missing = reasons(points, held, ScheduleRequest(charge=[bare, WindowRequest(start="06:00", end="07:00")]))
    assert missing == ["limit_missing", "limit_missing"]


def test_an_edit_is_checked_like_a_request(points: SchedulePoints, held: Schedule) -> None:
    over = held.with_window(Side.CHARGE, 1, Window(start=60, end=120, power=15_000.0, stop_level=95.0))
    with pytest.raises(Rejected) as rejected:
        check_edit(points, held, over)
    assert [reason.key for reason in rejected.value.reasons] == ["out_of_range"]


def test_an_image_says_what_was_written_and_only_that_changes(points: SchedulePoints, held: Schedule) -> None:
    image = dict.fromkeys(points.addresses, 0)
    table = points.addresses[0][0]
    image[table, CONTROL_WORD] = 0b101
    wanted = Schedule(
        charge=(Window(start=1390, end=DAY, power=3000.0, stop_level=95.0), *held.charge[1:]),
        discharge=held.discharge,
        armed=False,
    )
    new = write_schedule(points, wanted, image)
    assert read_schedule(points, new) == wanted
    assert {address: value for (_, address), value in new.items() if value != image[table, address]} == {
        CONTROL_WORD: 0b100,
        740: 2310,
        741: 3000,
        742: 95,
        743: 2400,
    }
    assert write_schedule(points, wanted, new) == new


@pytest.mark.parametrize("shift", [0, 60, -60, 120, -330])
def test_a_shifted_clock_is_never_seen_by_the_user(points: SchedulePoints, held: Schedule, shift: int) -> None:
    image = dict.fromkeys(points.addresses, 0)
    for start, end in [(1390, 220), (0, 60), (1380, DAY), (0, DAY), (59, 61)]:
        wanted = Schedule(
            charge=(Window(start=start, end=end, power=0.0, stop_level=0.0), *held.charge[1:]),
            discharge=held.discharge,
            armed=False,
        )
        assert read_schedule(points, write_schedule(points, wanted, image, shift), shift).charge[0] == wanted.charge[0]


def test_what_differs_is_told_by_the_keys_of_the_entities(held: Schedule) -> None:
    now = held.with_window(Side.CHARGE, 1, Window(start=1390, end=140, power=3000.0, stop_level=100.0))
    assert [(change.what, change.was, change.now) for change in changes(held, now)] == [
        ("charge_window_1_start", "22:40", "23:10"),
        ("charge_window_1_power", 2000.0, 3000.0),
    ]
