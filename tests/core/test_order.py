"""An order's end: the next time that the house's clock shows a time, judged by walking the clock of the time zone database minute by minute."""

from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest

from custom_components.chargehand.core.attempt_spacing import AttemptSpacing, next_try
from custom_components.chargehand.core.order import Order, OrderKind, last_shown, next_shown

MINUTE = timedelta(minutes=1)
ZONES = ["Europe/London", "America/New_York", "Australia/Lord_Howe", "America/St_Johns", "Asia/Kolkata"]


def walked(shown: time, after: datetime, zone: ZoneInfo) -> datetime:
    """Look at the clock of each minute until it shows the time, or has just skipped it."""
    moment = after.astimezone(UTC).replace(second=0, microsecond=0)
    before = moment.astimezone(zone).replace(tzinfo=None)
    while True:
        moment += MINUTE
        face = moment.astimezone(zone).replace(tzinfo=None)
        wanted = datetime.combine(face.date(), shown)
        if face == wanted or before < wanted < face:
            return moment
        before = face


@pytest.mark.parametrize("name", ZONES)
@pytest.mark.parametrize("year", [2026, 2028])
def test_an_end_is_what_the_clock_shows_next_in_every_hour_around_the_changes_of_summer_time(
    name: str, year: int
) -> None:
    zone = ZoneInfo(name)
    start = datetime(year, 1, 1, tzinfo=UTC)
    hours = [start + timedelta(hours=at) for at in range(366 * 24)]
    changed = [
        at for at in hours if at.astimezone(zone).utcoffset() != (at + timedelta(hours=1)).astimezone(zone).utcoffset()
    ]
    assert len(changed) == (0 if name == "Asia/Kolkata" else 2)
    looked = 0
    for change in changed or [start]:
        for hour in range(-26, 3, 2):
            after = change + timedelta(hours=hour, minutes=17)
            for shown in (time(0, 0), time(0, 30), time(1, 0), time(1, 45), time(2, 15), time(3, 0), time(23, 59)):
                assert next_shown(shown, after, zone) == walked(shown, after, zone), (after, shown)
                looked += 1
    assert looked >= 100


@pytest.mark.parametrize(
    ("after", "shown", "moment"),
    [
        # British Summer Time begins on 2026-03-29 and ends on 2026-10-25, at 01:00 GMT (gov.uk/when-do-the-clocks-change, from memory).
        ("2026-03-28T22:00+00:00", "01:30", "2026-03-29T01:00+00:00"),
        ("2026-03-28T22:00+00:00", "04:50", "2026-03-29T03:50+00:00"),
        ("2026-10-24T21:00+00:00", "01:30", "2026-10-25T00:30+00:00"),
        ("2026-10-25T00:40+00:00", "01:30", "2026-10-25T01:30+00:00"),
        ("2026-10-24T21:00+00:00", "04:50", "2026-10-25T04:50+00:00"),
        # A time that is shown now is over: the next is tomorrow's.
        ("2026-01-10T04:50+00:00", "04:50", "2026-01-11T04:50+00:00"),
    ],
)
def test_ends_in_a_british_night(after: str, shown: str, moment: str) -> None:
    found = next_shown(time.fromisoformat(shown), datetime.fromisoformat(after), ZoneInfo("Europe/London"))
    assert found == datetime.fromisoformat(moment)


@pytest.mark.parametrize("name", ZONES)
def test_what_the_clock_showed_last_is_walked_to_from_the_day_before(name: str) -> None:
    zone = ZoneInfo(name)
    for change in (
        datetime(2026, 3, 29, tzinfo=UTC),
        datetime(2026, 10, 25, tzinfo=UTC),
        datetime(2026, 4, 5, tzinfo=UTC),
    ):
        for hour in range(-10, 30, 4):
            before = change + timedelta(hours=hour, minutes=17)
            for shown in (time(0, 0), time(1, 30), time(1, 45), time(3, 0), time(23, 59)):
                found, walking = last_shown(shown, before, zone), before - timedelta(hours=52)
                moments = list[datetime]()
                while (walking := walked(shown, walking, zone)) < before:
                    moments.append(walking)
                last_day = [at for at in moments if at.astimezone(zone).date() == moments[-1].astimezone(zone).date()]
                assert found == last_day[0], (before, shown)


def test_an_order_is_kept_as_it_was() -> None:
    at = datetime(2026, 1, 10, 22, 50, tzinfo=UTC)
    order = Order(
        what=OrderKind.APPLY_SCHEDULE,
        asked={"armed": True},
        since=at,
        until=at + timedelta(hours=6),
        by="somebody",
        why="no answer",
        tries=3,
    )
    assert Order.from_dict(order.as_dict()).as_dict() == order.as_dict()


@pytest.mark.parametrize(
    "wrong",
    [{}, {"what": "sell_the_house"}, {"since": "2026-01-10T22:50:00"}, {"until": None}, {"asked": []}],
    ids=["nothing", "another kind", "no zone", "no end", "no mapping"],
)
def test_what_is_no_order_is_refused(wrong: dict[str, object]) -> None:
    at = "2026-01-10T22:50:00+00:00"
    good = {"what": "apply_schedule", "asked": {}, "since": at, "until": at, "by": "somebody", "why": None, "tries": 1}
    assert Order.from_dict(good)
    with pytest.raises((KeyError, TypeError, ValueError)):
        Order.from_dict({**good, **wrong} if wrong else {})


def test_attempts_that_may_have_written_are_spaced_out() -> None:
    spacing, now = AttemptSpacing(), datetime(2026, 1, 10, 22, 50, tzinfo=UTC)
    assert spacing.allows(now)
    spacing.failed(now)
    assert spacing.allows(now), "the first is repeated at once"
    waits = []
    for _ in range(8):
        spacing.failed(now)
        wait = next(minutes for minutes in range(100) if spacing.allows(now + minutes * MINUTE))
        waits.append(wait)
        now += wait * MINUTE
    assert waits == [1, 2, 4, 8, 16, 30, 30, 30]


def test_what_only_time_helps_is_tried_after_1_3_7_15_31_and_then_every_30_minutes() -> None:
    since = datetime(2026, 1, 10, 22, 50, tzinfo=UTC)
    assert [(next_try(since, tries) - since) / MINUTE for tries in range(8)] == [0, 1, 3, 7, 15, 31, 61, 91]
    spacing = AttemptSpacing()
    spacing.wait_until(next_try(since, 2))
    assert not spacing.allows(since + 2 * MINUTE)
    assert spacing.allows(since + 3 * MINUTE)
