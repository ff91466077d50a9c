"""What commits wear the inverter's registers out by, counted by day and by who asks."""

from collections import Counter

from homeassistant.util import dt as dt_util

from ..messages import WEAR
from .activity_log import ActivityLog
from .storage import Storage

MANY_COMMITS = 50
"""Commits of a day from which a repair warns: flash is good for about 100 000 writes a cell (common practice, no source)."""


class Wear:
    """One inverter's."""

    def __init__(self, storage: Storage, log: ActivityLog) -> None:
        """Count in `storage`, and warn through `log`."""
        self._storage = storage
        self._log = log
        self._callers: Counter[str] = Counter()

    def count_written(self, registers: int) -> None:
        """Count registers that are about to be written."""
        self._storage.count(_today(), registers=registers)

    def count_commit(self, by: str) -> None:
        """Count a commit that has written, and say who asks for most of them when they are too many."""
        day = _today()
        if day != self._storage.day:
            self._callers.clear()
        self._storage.count(day, commits=1)
        self._callers[by] += 1
        if self._storage.commits_today > MANY_COMMITS:
            most, times = self._callers.most_common(1)[0]
            commits = str(self._storage.commits_today)
            self._log.raise_issue(WEAR, commits=commits, caller=most, times=str(times))

    async def count_put_back(self) -> None:
        """Count that what another hand had changed was put back."""
        await self._storage.was_put_back(_today())


def _today() -> str:
    """Return the house's date."""
    return dt_util.now().date().isoformat()
