"""How the line did in the last minute: round trips, errors, bytes nobody asked for, the share of time that requests took."""

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
class _Unasked:
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
    """Answers that were seen to come again since the start; for diagnostics."""

    failed: deque[float] = field(default_factory=deque)
    """When requests failed."""

    stray: deque[_Unasked] = field(default_factory=deque)
    spoilt: deque[float] = field(default_factory=deque)

    def record(self, now: float, seconds: float, error: str | None) -> None:
        """Take in one request that ended at `now` after `seconds`."""
        self.requests.append(_Request(now, seconds, error))
        if error is not None:
            self.errors_by_kind[error] += 1
            self.failed.append(now)
        self._forget(now)

    def record_unasked(self, now: float, count: int) -> None:
        """Take in bytes that came while no request was out."""
        # One entry a second, however finely the bytes come.
        if self.stray and now < self.stray[-1].began + 1:
            self.stray[-1].count += count
        else:
            self.stray.append(_Unasked(now, count))
        self._forget(now)

    def record_damaged(self, now: float) -> None:
        """Take in an answer that came damaged."""
        self.spoilt.append(now)
        self._forget(now)

    def unasked(self, now: float) -> int:
        """How many bytes came in the last minute while no request was out.

        Behind a transparent gateway they are the sign of a second master on the bus; elsewhere, of late answers.
        """
        self._forget(now)
        return sum(bytes_.count for bytes_ in self.stray)

    def damaged(self, now: float) -> int:
        """How many of the last minute's requests were answered with a wrong CRC, or with what is no frame at all."""
        self._forget(now)
        return len(self.spoilt)

    def round_trip_ms(self, now: float) -> float | None:
        """Median time of the last minute's answered requests, in ms; None when there was none."""
        self._forget(now)
        times = [request.seconds for request in self.requests if request.error is None]
        return round(median(times) * 1000, 1) if times else None

    def worst_round_trip_ms(self, now: float) -> float | None:
        """Longest time of the last minute's answered requests, in ms; None when there was none."""
        self._forget(now)
        times = [request.seconds for request in self.requests if request.error is None]
        return round(max(times) * 1000, 1) if times else None

    def errors(self, now: float) -> int:
        """How many of the last minute's requests failed."""
        self._forget(now)
        return len(self.failed)

    def busy_percent(self, now: float) -> float:
        """Share of the last minute that requests took, in %."""
        self._forget(now)
        busy = sum(min(request.seconds, WINDOW_SECONDS) for request in self.requests)
        return round(min(100.0, busy / WINDOW_SECONDS * 100), 1)

    def _forget(self, now: float) -> None:
        before = now - WINDOW_SECONDS
        while self.requests and self.requests[0].ended < before:
            self.requests.popleft()
        while self.stray and self.stray[0].began < before:
            self.stray.popleft()
        for times in (self.failed, self.spoilt):
            while times and times[0] < before:
                times.popleft()
