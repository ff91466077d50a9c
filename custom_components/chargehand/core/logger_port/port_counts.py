"""What the logger port has served, for sensors and diagnostics."""

from collections import deque
from dataclasses import dataclass, field

WINDOW_SECONDS = 60


@dataclass(slots=True)
class PortCounts:
    """Counts since the port was opened."""

    passed_on: int = 0
    from_memory: int = 0
    refused: int = 0
    """Writes that the owner does not let pass."""

    busy: int = 0
    """Requests that could not wait for a change, or for other clients, any longer."""

    unanswered: int = 0
    turned_away: int = 0
    """Connections from addresses that may not connect."""

    last_request: float | None = None
    """When the last request came, on the event loop's clock."""

    _seconds: deque[list[float]] = field(default_factory=deque)
    """The seconds of the last minute that had requests, with their number."""

    def record_request(self, now: float) -> None:
        """Record that a request has come."""
        self.last_request = now
        if self._seconds and now < self._seconds[-1][0] + 1:
            self._seconds[-1][1] += 1
        else:
            self._seconds.append([now, 1])
        self._forget(now)

    def per_minute(self, now: float) -> int:
        """Return how many requests came in the last minute."""
        self._forget(now)
        return int(sum(number for _, number in self._seconds))

    def as_dict(self) -> dict[str, int]:
        """Return the counts by name."""
        names = ("passed_on", "from_memory", "refused", "busy", "unanswered", "turned_away")
        return {name: getattr(self, name) for name in names}

    def _forget(self, now: float) -> None:
        while self._seconds and self._seconds[0][0] < now - WINDOW_SECONDS:
            self._seconds.popleft()
