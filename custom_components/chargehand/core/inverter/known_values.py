"""The values known after a poll: those that it read, and for the others those known before."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime

from .polling import Polled
from .snapshot import CLOCK, SCHEDULE, ReadingValue, Snapshot

type _Last = tuple[frozenset[str], Mapping[str, ReadingValue], Mapping[str, ReadingValue]]
"""The keys wanted at a poll, the values that it read, and those known after it."""


class KnownValues:
    """Updates a snapshot after each poll. A value whose read failed twice in a row is no longer known."""

    def __init__(self) -> None:
        """Set up without missed values."""
        self._missed: dict[str, int] = {}
        self._last: _Last = frozenset(), {}, {}

    def after(self, before: Snapshot, wanted: frozenset[str], polled: Polled, at: datetime) -> Snapshot:
        """Return the snapshot after a poll that ended at the aware time `at`, with the `wanted` keys."""
        for key in polled.missed:
            self._missed[key] = self._missed.get(key, 0) + 1
        # A key that this poll did not include was neither missed nor read: a slow reading keeps its count until it is due again.
        for key in [key for key in self._missed if key in polled.keys and key not in polled.missed]:
            del self._missed[key]
        gone = {key for key, count in self._missed.items() if count > 1}
        wanted_before, read, values = self._last
        # If neither this poll nor the snapshot has anything new, there is no need to go through two hundred values.
        if gone or wanted_before is not wanted or read is not polled.values or values is not before.values:
            values = {**before.values, **polled.values}
            if gone or not values.keys() <= wanted:
                values = {key: value for key, value in values.items() if key in wanted and key not in gone}
            self._last = wanted, polled.values, values
        snapshot = replace(before, values=values, read_at=at)
        if SCHEDULE in gone:
            snapshot = replace(snapshot, schedule=None)
        elif polled.schedule is not None:
            snapshot = replace(snapshot, schedule=polled.schedule)
        if CLOCK in gone:
            return replace(snapshot, clock_offset=None)
        return snapshot if polled.clock_offset is None else replace(snapshot, clock_offset=polled.clock_offset)
