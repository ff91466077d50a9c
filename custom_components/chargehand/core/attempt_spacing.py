"""How far apart attempts are that may have written, which wears an inverter's registers, or that wait for the battery's state."""

from datetime import UTC, datetime, timedelta

FIRST, LONGEST = timedelta(minutes=1), timedelta(minutes=30)
"""From the second such attempt to the next one, and at most; doubled each time. The first is repeated at once."""


class AttemptSpacing:
    """When the next attempt may begin."""

    def __init__(self) -> None:
        """Let the first begin at once."""
        self._failed = 0
        self._not_before = datetime.min.replace(tzinfo=UTC)

    def failed(self, now: datetime) -> None:
        """Take note of such an attempt that failed."""
        self._failed += 1
        if self._failed > 1:
            self._not_before = now + min(FIRST * 2 ** min(self._failed - 2, 10), LONGEST)

    def allows(self, now: datetime) -> bool:
        """Return whether another attempt may begin."""
        return now >= self._not_before
