"""The inverter's clock against the house's.

Windows run on the inverter's clock. It keeps local time, local time without summer time, or UTC; users only see the house's time.
"""

from datetime import UTC, datetime, timedelta, tzinfo

from ..registers import Keeps


class NoTime(Exception):
    """The clock's registers hold no time."""


def inverter_time(keeps: Keeps, at: datetime, zone: tzinfo) -> datetime:
    """Return what the inverter's clock should show at a moment: a naive time in its own keeping."""
    local = at.astimezone(zone)
    if keeps is Keeps.UTC:
        return at.astimezone(UTC).replace(tzinfo=None)
    if keeps is Keeps.STANDARD:
        return local.replace(tzinfo=None) - (local.dst() or timedelta())
    return local.replace(tzinfo=None)


def shift_minutes(keeps: Keeps, at: datetime, zone: tzinfo) -> int:
    """How many minutes the inverter's clock is meant to be ahead of the house's at a moment (behind: negative)."""
    house = at.astimezone(zone).replace(tzinfo=None)
    return round((inverter_time(keeps, at, zone) - house) / timedelta(minutes=1))


def offset_seconds(shown: datetime, keeps: Keeps, at: datetime, zone: tzinfo) -> float:
    """How far a clock that showed `shown` at `at` is ahead of what it should show, in seconds."""
    return (shown - inverter_time(keeps, at, zone)).total_seconds()
