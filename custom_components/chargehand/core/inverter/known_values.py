"""What is known after a poll: what it brought, over what was known before."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime

from .polling import Polled
from .snapshot import CLOCK, SCHEDULE, ReadingValue, Snapshot

type _Taken = tuple[frozenset[str], Mapping[str, ReadingValue], Mapping[str, ReadingValue]]
"""The keys wanted at a poll, the values that it brought, and those known after it."""


class KnownValues:
    """Counts which values were missed; one whose read failed twice in a row is not known any more."""

    def __init__(self) -> None:
        """Have missed nothing."""
        self._missed: dict[str, int] = {}
        self._taken: _Taken = frozenset(), {}, {}

    def after(self, before: Snapshot, wanted: frozenset[str], polled: Polled, at: datetime) -> Snapshot:
        """Return what is known of the keys wanted once a poll that ended at an aware moment is taken."""
        for key in polled.missed:
            self._missed[key] = self._missed.get(key, 0) + 1
        # What was not asked for this time was neither missed nor read: a slow reading keeps its count until it is due again.
        for key in [key for key in self._missed if key in polled.asked and key not in polled.missed]:
            del self._missed[key]
        gone = {key for key, count in self._missed.items() if count > 1}
        wanted_before, brought, values = self._taken
        # Nothing new in this poll, nor in what is shown since the one before: two hundred values need not be gone through.
        if gone or wanted_before is not wanted or brought is not polled.values or values is not before.values:
            values = {**before.values, **polled.values}
            if gone or not values.keys() <= wanted:
                values = {key: value for key, value in values.items() if key in wanted and key not in gone}
            self._taken = wanted, polled.values, values
        snapshot = replace(before, values=values, read_at=at)
        if SCHEDULE in gone:
            snapshot = replace(snapshot, schedule=None)
        elif polled.schedule is not None:
            snapshot = replace(snapshot, schedule=polled.schedule)
        if CLOCK in gone:
            return replace(snapshot, clock_offset=None)
        return snapshot if polled.clock_offset is None else replace(snapshot, clock_offset=polled.clock_offset)
