"""How far apart attempts are that may have written, which wears an inverter's registers, or that wait for something else than its answer."""

from datetime import UTC, datetime, timedelta

FIRST, LONGEST = timedelta(minutes=1), timedelta(minutes=30)
"""From the second such attempt to the next one, and at most; doubled each time. The first is repeated at once."""


def next_try(since: datetime, tries: int) -> datetime:
    """Return when to try again what began at `since` and has failed `tries` times: 1, 3, 7, 15 min after it, then every 30."""
    return since + sum((min(FIRST * 2 ** min(n, 10), LONGEST) for n in range(tries)), timedelta())


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

    def wait_until(self, moment: datetime) -> None:
        """Let no attempt begin before `moment`."""
        self._not_before = moment

    def allows(self, now: datetime) -> bool:
        """Return whether another attempt may begin."""
        return now >= self._not_before
