"""The charge before expensive hours, without a plan: how long to charge, in which times, and the windows for it by the house's clock."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo
from math import ceil
from typing import Any

from ..core.planning import DatedPrice, WindowRoom, cheapest_runs, split_at

MARGIN = 1.1
"""The last per cent take longer than the others (common practice, no source)."""

LONGEST = timedelta(hours=22)
"""The charge does not begin earlier before the hours: a window that ends when it begins has no length, and one day has 23 hours."""

SHORTEST_MINUTES = 5
"""A window shorter than this is not worth a change of the schedule."""

MINUTE = timedelta(minutes=1)

type Run = tuple[datetime, datetime]


@dataclass(frozen=True, kw_only=True, slots=True)
class BeforeNeed:
    """What the battery is to hold when the hours begin, and what it takes to get there. Levels are in %."""

    target: int
    reserve: int
    """At what level a window stops in which the battery rests."""

    level: float
    """Now."""

    capacity_kwh: float
    charge_kw: float
    draws_kw: float
    """What the house takes from the battery until it is charged."""

    hold: bool
    """Whether the battery rests until the hours begin."""


def before_runs(
    need: BeforeNeed, prices: Sequence[DatedPrice], begins: datetime, now: datetime, room: WindowRoom
) -> list[Run]:
    """Return the times to charge in before `begins`, as start and end in order; none where nothing is needed."""
    times = [
        DatedPrice(start=max(price.start, begins - LONGEST), end=min(price.end, begins), buy=price.buy)
        for price in prices
        if price.end > max(now, begins - LONGEST) and price.start < begins
    ]
    if not times:
        return []
    cheapest = min(times, key=lambda time: (time.buy, -time.start.timestamp()))
    wait_hours = max((cheapest.start - now) / timedelta(hours=1), 0.0)
    missing = (need.target - need.level) / 100 * need.capacity_kwh + need.draws_kw * wait_hours
    # A battery that is full enough rests from the cheapest time on.
    minutes = max(MARGIN * missing / need.charge_kw * 60, 1.0 if need.hold else 0.0)
    if room.midnight is not None:
        times = split_at(times, room.midnight)
    return cheapest_runs(times, minutes, room, now)


def before_windows(need: BeforeNeed, runs: Sequence[Run], begins: datetime, zone: tzinfo) -> list[dict[str, Any]]:
    """Return the windows for these times, by the house's clock: start and end as "HH:MM", and the stop level."""
    parts: list[tuple[datetime, datetime, int]] = []
    for at, (start, end) in enumerate(runs):
        if need.hold and at:
            parts.append((runs[at - 1][1], start, need.reserve))
        parts.append((start, begins if need.hold and at == len(runs) - 1 else end, need.target))
    return _by_clock(parts, begins, zone)


def _by_clock(parts: Sequence[tuple[datetime, datetime, int]], begins: datetime, zone: tzinfo) -> list[dict[str, Any]]:
    """Return windows in minutes of the clock since the midnight before.

    A night that moves the clock has one hour twice or not at all. Then a window is as long as either calculation wants it, and none covers
    another.
    """
    due = begins.astimezone(zone).replace(tzinfo=None)
    midnight = due.replace(hour=0, minute=0, second=0, microsecond=0) - timedelta(days=1)

    def shown(moment: datetime) -> int:
        return (moment.astimezone(zone).replace(tzinfo=None) - midnight) // MINUTE

    last, windows = -10_000, list[dict[str, Any]]()
    for start, end, stop in parts:
        opens = shown(start)
        shuts = min(max(shown(end), opens + (end - start) // MINUTE), shown(begins))
        opens = max(opens, last)
        if shuts - opens >= SHORTEST_MINUTES:
            last = shuts
            times = {"start": midnight + opens * MINUTE, "end": midnight + shuts * MINUTE}
            windows.append({**{edge: f"{time:%H:%M}" for edge, time in times.items()}, "stop_level": stop})
    return windows


def target_level(need: float, *, energy: bool, reserve: float, capacity_kwh: float) -> int:
    """Return the level in % for a need in %, or in kWh above the reserve where it is an `energy`."""
    return ceil(min(reserve + 100 * need / capacity_kwh if energy else need, 100.0) - 1e-9)
