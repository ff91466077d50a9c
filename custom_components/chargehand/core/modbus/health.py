"""Statistics of the line over the last minute: round trips, errors, unsolicited bytes, and the share of time that requests took."""

from collections import Counter, deque
from dataclasses import dataclass, field
from statistics import median
from typing import NamedTuple

WINDOW_SECONDS = 60.0


class _Request(NamedTuple):
    """One request that ended."""

    ended: float
    seconds: float
    error: str | None


@dataclass(slots=True)
class _Unsolicited:
    """Bytes that came within one second."""

    began: float
    count: int


@dataclass(slots=True)
class LineHealth:
    """A record of the last minute's requests. Times are seconds on the event loop's clock."""

    requests: deque[_Request] = field(default_factory=deque)
    errors_by_kind: Counter[str] = field(default_factory=Counter)
    """Errors since the start, by kind; for diagnostics."""

    retries: int = 0
    """Requests that were sent again since the start, because the unit was silent or busy; for diagnostics."""

    repeated: int = 0
    """Answers that came again since the start; for diagnostics."""

    failed_at: deque[float] = field(default_factory=deque)
    unsolicited: deque[_Unsolicited] = field(default_factory=deque)
    damaged_at: deque[float] = field(default_factory=deque)

    def record(self, now: float, seconds: float, error: str | None) -> None:
        """Record a request that ended at `now` after `seconds`."""
        self.requests.append(_Request(now, seconds, error))
        if error is not None:
            self.errors_by_kind[error] += 1
            self.failed_at.append(now)
        self._forget(now)

    def record_unsolicited(self, now: float, count: int) -> None:
        """Record bytes that came while no request was pending."""
        # One entry a second, even if the bytes come one by one.
        if self.unsolicited and now < self.unsolicited[-1].began + 1:
            self.unsolicited[-1].count += count
        else:
            self.unsolicited.append(_Unsolicited(now, count))
        self._forget(now)

    def record_damaged(self, now: float) -> None:
        """Record an answer that came damaged."""
        self.damaged_at.append(now)
        self._forget(now)

    def unsolicited_bytes(self, now: float) -> int:
        """Return how many bytes came in the last minute while no request was pending.

        Behind a transparent gateway they are the sign of a second master on the bus; elsewhere, of late answers.
        """
        self._forget(now)
        return sum(bytes_.count for bytes_ in self.unsolicited)

    def damaged(self, now: float) -> int:
        """Return how many of the last minute's answers had a wrong CRC, or were no frame at all."""
        self._forget(now)
        return len(self.damaged_at)

    def round_trip_ms(self, now: float) -> float | None:
        """Return the median time of the last minute's answered requests in ms, or None if there were none."""
        self._forget(now)
        times = [request.seconds for request in self.requests if request.error is None]
        return round(median(times) * 1000, 1) if times else None

    def worst_round_trip_ms(self, now: float) -> float | None:
        """Return the longest time of the last minute's answered requests in ms, or None if there were none."""
        self._forget(now)
        times = [request.seconds for request in self.requests if request.error is None]
        return round(max(times) * 1000, 1) if times else None

    def errors(self, now: float) -> int:
        """Return how many of the last minute's requests failed."""
        self._forget(now)
        return len(self.failed_at)

    def busy_percent(self, now: float) -> float:
        """Return the share of the last minute that requests took, in %."""
        self._forget(now)
        busy = sum(min(request.seconds, WINDOW_SECONDS) for request in self.requests)
        return round(min(100.0, busy / WINDOW_SECONDS * 100), 1)

    def _forget(self, now: float) -> None:
        before = now - WINDOW_SECONDS
        while self.requests and self.requests[0].ended < before:
            self.requests.popleft()
        while self.unsolicited and self.unsolicited[0].began < before:
            self.unsolicited.popleft()
        for times in (self.failed_at, self.damaged_at):
            while times and times[0] < before:
                times.popleft()
