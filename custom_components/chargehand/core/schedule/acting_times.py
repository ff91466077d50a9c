"""When windows act, day after day, in real time: also where a clock is moved for summer time."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime, time, timedelta

from .windows import Schedule, Side, Window

LOOK = timedelta(hours=6)
"""Clocks are never moved twice within this."""

MINUTE = timedelta(minutes=1)

type Shows = Callable[[datetime], datetime]
"""From an aware moment to the naive time that the inverter's clock shows then."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Acting:
    """One time that a window acts, `start` to `end` in UTC. `number` counts windows from 1.

    `scheduled` is its start by the inverter's own clock, without a zone: with the number it says which time it is.
    """

    number: int
    window: Window
    scheduled: datetime
    start: datetime
    end: datetime


def acting_times(
    schedule: Schedule, shows: Shows, shift: int, first: datetime, last: datetime, *, side: Side = Side.CHARGE
) -> list[Acting]:
    """Return every time that an armed window of one side acts between two aware moments, in order; one that reaches across them is whole.

    The windows are in the house's time of now, which the inverter's clock is `shift` minutes ahead of.
    """
    if schedule.armed is False:
        return []
    spans = list(_spans(shows, first - timedelta(days=1, hours=2), last + timedelta(days=1, hours=2)))
    found: list[Acting] = []
    for number, window in enumerate(schedule.side(side), start=1):
        if window.used:
            found += _of_window(number, window, shift, spans)
    return sorted((one for one in found if one.start < last and one.end > first), key=lambda one: one.start)


def _spans(shows: Shows, first: datetime, last: datetime) -> Iterator[tuple[datetime, datetime, timedelta]]:
    """Yield times from UTC to UTC in which the inverter's clock is ahead of UTC by the same."""

    def ahead(at: datetime) -> timedelta:
        return shows(at) - at.replace(tzinfo=None)

    begun = at = first.astimezone(UTC).replace(second=0, microsecond=0)
    end = last.astimezone(UTC)
    while at < end:
        following = at + LOOK
        if ahead(following) != ahead(at):
            moved = _moved(ahead, at, following)
            yield begun, moved, ahead(at)
            begun = moved
        at = following
    yield begun, at, ahead(at)


def _moved(ahead: Callable[[datetime], timedelta], before: datetime, after: datetime) -> datetime:
    """Return the first minute at which the clock is ahead by what it is after the move."""
    while after - before > MINUTE:
        middle = before + (after - before) // MINUTE // 2 * MINUTE
        if ahead(middle) == ahead(before):
            before = middle
        else:
            after = middle
    return after


def _of_window(
    number: int, window: Window, shift: int, spans: list[tuple[datetime, datetime, timedelta]]
) -> list[Acting]:
    found: list[Acting] = []
    for begun, ended, ahead in spans:
        clock_begun, clock_ended = (begun + ahead).replace(tzinfo=None), (ended + ahead).replace(tzinfo=None)
        day = datetime.combine(clock_begun.date(), time()) - timedelta(days=2)
        while day < clock_ended:
            scheduled = day + (window.start + shift) * MINUTE
            start, end = max(scheduled, clock_begun), min(scheduled + window.minutes * MINUTE, clock_ended)
            day += timedelta(days=1)
            if start >= end or (window.days is not None and scheduled.weekday() not in window.days):
                continue
            one = Acting(
                number=number,
                window=window,
                scheduled=scheduled,
                start=(start - ahead).replace(tzinfo=UTC),
                end=(end - ahead).replace(tzinfo=UTC),
            )
            # Moving the clock does not end a window that still covers the minute it shows.
            if found and found[-1].end == one.start == begun:
                found[-1] = replace(found[-1], end=one.end)
            else:
                found.append(one)
    return found
