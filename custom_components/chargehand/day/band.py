"""The stretch of time that the card shows, and the house's clock over it."""

from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta, tzinfo
from typing import Any

BACK = timedelta(hours=8)
MINUTE, HOUR = timedelta(minutes=1), timedelta(hours=1)


@dataclass(frozen=True, kw_only=True, slots=True)
class Band:
    """From eight whole hours before this one to the end of tomorrow; both in UTC."""

    start: datetime
    end: datetime
    zone: tzinfo
    """The house's."""

    def as_dict(self) -> dict[str, Any]:
        """Return the same as JSON data."""
        return {"start": self.start.isoformat(), "end": self.end.isoformat()}

    def clock(self) -> dict[str, Any]:
        """Return the house's zone, and its offset from UTC in minutes from each moment on at which it is another one."""
        moments = [self.start]
        at = self.start
        while at < self.end:
            following = min(at + HOUR, self.end)
            if self._offset(following) != self._offset(at):
                moments.append(self._moved(at, following))
            at = following
        segments = [{"from": one.isoformat(), "offset_minutes": self._offset(one) // MINUTE} for one in moments]
        return {"zone": str(self.zone), "segments": segments}

    def _offset(self, at: datetime) -> timedelta:
        return at.astimezone(self.zone).utcoffset() or timedelta()

    def _moved(self, before: datetime, after: datetime) -> datetime:
        """Return the first minute at which the clock is ahead by what it is after its move."""
        return next(
            at for at in (before + count * MINUTE for count in range(1, 61)) if self._offset(at) == self._offset(after)
        )


def band_at(now: datetime, zone: tzinfo) -> Band:
    """Return the band of an aware moment."""
    shown = now.astimezone(zone)
    hour = now.astimezone(UTC) - timedelta(minutes=shown.minute, seconds=shown.second, microseconds=shown.microsecond)
    end = datetime.combine(shown.date() + timedelta(days=2), time(), zone)
    return Band(start=hour - BACK, end=end.astimezone(UTC), zone=zone)
