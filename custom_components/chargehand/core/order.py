"""An order: a change of the schedule that is tried again until it is on the inverter, or until a given time."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from enum import StrEnum
from typing import Any, Self

MINUTE = timedelta(minutes=1)


class OrderState(StrEnum):
    """What has become of the last order."""

    NONE = "none"
    """There has been no order yet."""

    WAITING = "waiting"
    DONE = "done"
    FAILED = "failed"
    EXPIRED = "expired"
    REPLACED = "replaced"


class OrderKind(StrEnum):
    """The actions that take orders."""

    APPLY_SCHEDULE = "apply_schedule"
    RESTORE_SCHEDULE = "restore_schedule"
    PLAN_CHARGE = "plan_charge"
    CHARGE_TONIGHT = "charge_tonight"
    CHARGE_BEFORE = "charge_before"
    STOP_CHARGING = "stop_charging"
    RESUME_CHARGING = "resume_charging"


@dataclass(kw_only=True, slots=True, eq=False)
class Order:
    """One order. Two orders for the same thing are two orders, so they compare by identity."""

    what: OrderKind
    asked: dict[str, Any]
    """What that action was given, as plain JSON data."""

    since: datetime
    until: datetime
    """When it was given, and when it ends; both aware, in UTC."""

    by: str
    why: str | None = None
    """Why it waits, or why it ended without being done; None while nothing has gone wrong."""

    tries: int = 0
    """Tries that have failed so far."""

    over: bool = False
    """Whether an attempt has ended it for good, also where another order had taken its place meanwhile; not kept over restarts."""

    calculated: dict[str, Any] | None = None
    """What the last attempt had worked out before it wrote, for the answer; not kept over restarts."""

    def as_dict(self) -> dict[str, Any]:
        """Return the same as JSON data."""
        return {
            "what": str(self.what),
            "asked": self.asked,
            "since": self.since.isoformat(),
            "until": self.until.isoformat(),
            "by": self.by,
            "why": self.why,
            "tries": self.tries,
        }

    @classmethod
    def from_dict(cls, data: Mapping[str, Any]) -> Self:
        """Return what `as_dict` was made of. Raises KeyError, TypeError or ValueError for anything else."""
        since, until = (datetime.fromisoformat(data[end]) for end in ("since", "until"))
        if since.tzinfo is None or until.tzinfo is None:
            raise ValueError("an order's times have a zone")
        if not isinstance(data["asked"], dict):
            raise TypeError("what an order asks for is a mapping")
        return cls(
            what=OrderKind(data["what"]),
            asked=data["asked"],
            since=since,
            until=until,
            by=str(data["by"]),
            why=data["why"],
            tries=int(data["tries"]),
        )


def goes_on(earlier: Order | None, failed: Order) -> bool:
    """Return whether a waiting order goes on whose place one that failed had taken. None does after somebody wanted the charge stopped."""
    return earlier is not None and not earlier.over and failed.what is not OrderKind.STOP_CHARGING


def next_shown(shown: time, after: datetime, zone: tzinfo) -> datetime:
    """Return, in UTC, when a clock of `zone` next shows `shown`, later than the aware moment `after`.

    A time that the clock shows twice in an autumn night comes twice. One that it skips in spring comes when the clock skips it.
    """
    today = after.astimezone(zone).date()
    moments = [moment for days in range(3) for moment in _shown_on(today + timedelta(days=days), shown, zone)]
    return min(moment for moment in moments if moment > after)


def last_shown(shown: time, before: datetime, zone: tzinfo) -> datetime:
    """Return, in UTC, when a clock of `zone` showed `shown` for the last time before the aware moment `before`.

    Of a time that the clock shows twice in one night, the first counts. One that it skips comes when the clock skips it.
    """
    last = before.astimezone(zone).date()
    earlier = (min(_shown_on(last - timedelta(days=days), shown, zone)) for days in range(3))
    return next(moment for moment in earlier if moment < before)


def _shown_on(day: date, shown: time, zone: tzinfo) -> list[datetime]:
    """Return the moments of a day at which the clock shows a time, or skips it, in UTC."""
    first, second = (datetime.combine(day, shown.replace(fold=fold), zone).astimezone(UTC) for fold in (0, 1))
    if first <= second:
        return [first, second]
    # Skipped: either side's offset gives a moment on the other side of the change. The clock is moved at a whole minute.
    moment, offset = second.replace(second=0, microsecond=0), second.astimezone(zone).utcoffset()
    while moment.astimezone(zone).utcoffset() == offset:
        moment += MINUTE
    return [moment]
