"""The inverter's clock against the house's, in its three keepings."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from custom_components.chargehand.core.registers import Keeps
from custom_components.chargehand.core.schedule.acting_times import acting_times
from custom_components.chargehand.core.schedule.clock_setting import may_set_clock
from custom_components.chargehand.core.schedule.inverter_clock import inverter_time, offset_seconds, shift_minutes
from custom_components.chargehand.core.schedule.windows import Schedule, Window

LONDON = ZoneInfo("Europe/London")
WINTER = datetime(2027, 1, 15, 12, 0, tzinfo=UTC)
SUMMER = datetime(2027, 7, 15, 12, 0, tzinfo=UTC)


@pytest.mark.parametrize(
    ("keeps", "at", "hour", "shift"),
    [
        # Summer time in the United Kingdom is UTC+1 from the last Sunday of March to the last of October (IANA tz database).
        (Keeps.LOCAL, WINTER, 12, 0),
        (Keeps.LOCAL, SUMMER, 13, 0),
        (Keeps.STANDARD, WINTER, 12, 0),
        (Keeps.STANDARD, SUMMER, 12, -60),
        (Keeps.UTC, WINTER, 12, 0),
        (Keeps.UTC, SUMMER, 12, -60),
    ],
)
def test_what_the_clock_should_show(keeps: Keeps, at: datetime, hour: int, shift: int) -> None:
    assert inverter_time(keeps, at, LONDON).hour == hour
    assert shift_minutes(keeps, at, LONDON) == shift


def test_a_clock_of_another_zone_is_shifted_by_its_hours() -> None:
    assert shift_minutes(Keeps.UTC, WINTER, ZoneInfo("Asia/Kolkata")) == -330


def test_a_clock_that_is_ahead_has_a_positive_offset() -> None:
    shown = WINTER.replace(second=20, tzinfo=None)
    assert offset_seconds(shown, Keeps.LOCAL, WINTER, LONDON) == 20


def night(*, armed: bool = True) -> Schedule:
    return Schedule(charge=(Window(start=1420, end=310), Window()), armed=armed)


def starts(schedule: Schedule, after: datetime, *, ahead: int = 0) -> list[datetime]:
    """When its windows begin in the two days after a moment, by a clock that keeps the house's time and is ahead by so many minutes."""

    def shows(at: datetime) -> datetime:
        return inverter_time(Keeps.LOCAL, at, LONDON) + timedelta(minutes=ahead)

    found = acting_times(schedule, shows, 0, after, after + timedelta(days=2))
    return [one.start.astimezone(LONDON) for one in found if one.start > after]


def test_the_next_charge_is_tonight_or_tomorrow_night() -> None:
    evening = datetime(2027, 1, 15, 20, 0, tzinfo=LONDON)
    tonight, tomorrow = (datetime(2027, 1, day, 23, 40, tzinfo=LONDON) for day in (15, 16))
    assert starts(night(), evening) == [tonight, tomorrow]
    assert starts(night(), tonight)[0] == tomorrow
    assert starts(night(armed=False), evening) == []
    assert starts(Schedule(charge=(Window(),), armed=True), evening) == []


def test_a_clock_that_is_ahead_charges_earlier() -> None:
    evening = datetime(2027, 1, 15, 20, 0, tzinfo=LONDON)
    assert starts(night(), evening, ahead=20)[0] == datetime(2027, 1, 15, 23, 20, tzinfo=LONDON)


def test_a_night_before_a_change_of_summer_time_begins_at_its_time_and_so_does_the_next() -> None:
    """In 2026 summer time in the United Kingdom ends on 25 October at 01:00 UTC (IANA tz database)."""
    assert starts(night(), datetime(2026, 10, 24, 20, 0, tzinfo=LONDON)) == [
        datetime(2026, 10, 24, 22, 40, tzinfo=UTC),
        datetime(2026, 10, 25, 23, 40, tzinfo=UTC),
    ]


def test_a_clock_is_not_set_near_a_windows_edge_or_across_one() -> None:
    def at(hour: int, minute: int) -> datetime:
        return datetime(2027, 1, 15, hour, minute, tzinfo=LONDON)

    schedule = Schedule(charge=(Window(start=1420, end=310), Window()), armed=True)
    assert may_set_clock(schedule, at(12, 0), 90, LONDON)
    assert not may_set_clock(schedule, at(23, 39), 30, LONDON), "the edge is a minute away"
    assert not may_set_clock(schedule, at(23, 30), 1200, LONDON), "the clock is past the start, the house is not"
    assert not may_set_clock(schedule, at(23, 50), -1200, LONDON), "the house is past the start, the clock is not"
    assert not may_set_clock(schedule, at(5, 11), -30, LONDON), "the end counts too"
    assert may_set_clock(schedule, at(5, 20), -30, LONDON)
    assert not may_set_clock(schedule, at(12, 0), 86400, LONDON), "a day off is past every edge"
    assert may_set_clock(None, at(23, 39), 30, LONDON)


def test_a_clock_is_not_set_around_a_change_of_summer_time() -> None:
    """In 2027 summer time in the United Kingdom begins on 28 March at 01:00 UTC (IANA tz database)."""
    change = datetime(2027, 3, 28, 1, 0, tzinfo=UTC)
    for hours in (-2.9, -1, 0, 1, 2.9):
        assert not may_set_clock(None, change + timedelta(hours=hours), 3600, LONDON), hours
    for hours in (-3.1, 3.1):
        assert may_set_clock(None, change + timedelta(hours=hours), 3600, LONDON), hours
