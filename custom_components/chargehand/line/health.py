"""How the line did in the last minute: round trips, errors, and the share of time that requests took."""

from collections import Counter, deque
from dataclasses import dataclass, field
from statistics import median

WINDOW_SECONDS = 60.0


@dataclass(frozen=True, slots=True)
class _Request:
    """One request that ended."""

    ended: float
    seconds: float
    error: str | None


@dataclass(slots=True)
class LineHealth:
    """A record of the last minute's requests. Times are seconds on the event loop's clock."""

    requests: deque[_Request] = field(default_factory=deque)
    errors_by_kind: Counter[str] = field(default_factory=Counter)
    """Errors since the start, by kind; for diagnostics."""

    def record(self, now: float, seconds: float, error: str | None) -> None:
        """Take in one request that ended at `now` after `seconds`."""
        self.requests.append(_Request(now, seconds, error))
        if error is not None:
            self.errors_by_kind[error] += 1
        self._forget(now)

    def round_trip_ms(self, now: float) -> float | None:
        """Median time of the last minute's answered requests, in ms; None when there was none."""
        self._forget(now)
        times = [request.seconds for request in self.requests if request.error is None]
        return round(median(times) * 1000, 1) if times else None

    def errors(self, now: float) -> int:
        """How many of the last minute's requests failed."""
        self._forget(now)
        return sum(request.error is not None for request in self.requests)

    def busy_percent(self, now: float) -> float:
        """Share of the last minute that requests took, in %."""
        self._forget(now)
        busy = sum(min(request.seconds, WINDOW_SECONDS) for request in self.requests)
        return round(min(100.0, busy / WINDOW_SECONDS * 100), 1)

    def _forget(self, now: float) -> None:
        while self.requests and self.requests[0].ended < now - WINDOW_SECONDS:
            self.requests.popleft()
