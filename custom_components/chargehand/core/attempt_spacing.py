"""How far apart attempts are that may have written: writing wears an inverter's registers."""

from datetime import UTC, datetime, timedelta

FIRST, LONGEST = timedelta(minutes=1), timedelta(minutes=30)
"""From the second attempt that may have written to the next one, and at most; doubled each time. The first is repeated at once."""


class AttemptSpacing:
    """When the next attempt may begin."""

    def __init__(self) -> None:
        """Let the first begin at once."""
        self._failed = 0
        self._not_before = datetime.min.replace(tzinfo=UTC)

    def failed(self, now: datetime) -> None:
        """Take note of an attempt that may have written and failed."""
        self._failed += 1
        if self._failed > 1:
            self._not_before = now + min(FIRST * 2 ** min(self._failed - 2, 10), LONGEST)

    def allows(self, now: datetime) -> bool:
        """Return whether another attempt may begin."""
        return now >= self._not_before
