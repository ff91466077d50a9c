"""When an inverter's charge windows act in real time, according to its snapshot."""

from datetime import datetime, timedelta

from ..registers import Keeps
from ..schedule import DAY, Acting, Side, acting_times, inverter_time
from .inverter import Inverter
from .snapshot import CLOCK, SCHEDULE, Snapshot

LEVEL = "battery_level"

FOLLOWED = frozenset({SCHEDULE, CLOCK, LEVEL})
"""The keys to poll for following the windows, as far as the map has them."""


def level_of(snapshot: Snapshot) -> float | None:
    """Return the battery's level in % as it was read last."""
    level = snapshot.values.get(LEVEL)
    return float(level) if isinstance(level, int | float) and not isinstance(level, bool) else None


def clock_ahead(snapshot: Snapshot) -> timedelta:
    """Return how far the inverter's clock is wrong, in whole minutes, up to half a day."""
    minutes = round((snapshot.clock_offset or 0.0) / 60)
    return timedelta(minutes=(minutes + DAY // 2) % DAY - DAY // 2)


def acting(
    inverter: Inverter, snapshot: Snapshot, first: datetime, last: datetime, side: Side = Side.CHARGE
) -> list[Acting]:
    """Return every time that a window of the snapshot's schedule acts between two aware moments, of one side."""
    schedule = snapshot.schedule
    if schedule is None:
        return []
    ahead = clock_ahead(snapshot)
    keeps = Keeps.LOCAL if inverter.map.clock is None else inverter.map.clock.keeps
    return acting_times(
        schedule,
        lambda at: inverter_time(keeps, at, inverter.reader.zone) + ahead,
        inverter.shift(),
        first,
        last,
        side=side,
    )
