"""When the inverter's clock may be set by itself."""

from collections.abc import Iterable
from datetime import UTC, datetime, timedelta, tzinfo

from .windows import DAY, Schedule

AWAY_FROM_EDGES = timedelta(minutes=2)
"""A clock that is set across a window's edge would start or end it at once, or twice."""

AWAY_FROM_SUMMER_TIME = timedelta(hours=3)
"""Around a change of summer time an offset of an hour may be the inverter's own change, made a little early or late."""


def may_set_clock(schedule: Schedule | None, now: datetime, offset: float, zone: tzinfo) -> bool:
    """Whether nothing speaks against setting a clock that is `offset` s ahead; `now` is aware.

    Neither the time it shows nor the time it would show may be within two minutes of a window's edge, nor may the time between
    the two hold one; and summer time may not begin or end within three hours.
    """
    local = now.astimezone(zone)
    if _changes_around(local):
        return False
    shown = local + timedelta(seconds=offset)
    first, last = sorted((local, shown))
    return not any(_within(edge, first - AWAY_FROM_EDGES, last + AWAY_FROM_EDGES) for edge in _edges(schedule))


def _edges(schedule: Schedule | None) -> Iterable[int]:
    """Minutes of the day at which a window starts or ends."""
    if schedule is None:
        return ()
    return {edge % DAY for _, _, window in schedule.places() if window.used for edge in (window.start, window.end)}


def _within(edge: int, first: datetime, last: datetime) -> bool:
    """Whether a time of day comes between two moments of the clock's face."""
    if last - first >= timedelta(days=1):
        return True
    begin = first.hour * 3600 + first.minute * 60 + first.second
    return (edge * 60 - begin) % (DAY * 60) <= (last - first).total_seconds()


def _changes_around(local: datetime) -> bool:
    # In UTC: on the wall clock of a zone, three hours may be two or four.
    moment = local.astimezone(UTC)
    offsets = {
        (moment + step).astimezone(local.tzinfo).utcoffset()
        for step in (-AWAY_FROM_SUMMER_TIME, timedelta(), AWAY_FROM_SUMMER_TIME)
    }
    return len(offsets) > 1
