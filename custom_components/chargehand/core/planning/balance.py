"""Energies of a house hour by hour from the counters at its edges: what comes in, less what goes out."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from math import isfinite

from .history import Hour

RESOLUTION_KWH = 0.1
"""Counters often count in tenths, so that an hour of one can be off by so much (common practice, no source)."""
WAKING_KWH = 1.0
"""What solar panels may give in the first hour after their inverter slept, at most, in kWh; more is a counter that was not read."""

_HOUR = timedelta(hours=1)


@dataclass(frozen=True, kw_only=True, slots=True)
class Flow:
    """One counter: how much it rose up to the end of each hour, since the hour before that it has; `sign` 1 into the house, -1 out of it.

    One that `sleeps` may be silent at night, as a solar inverter is.
    """

    hours: Sequence[Hour]
    sign: int = 1
    sleeps: bool = False


def balance(flows: Sequence[Flow]) -> list[Hour]:
    """Energy of each hour, in kWh, from the first that every flow has; None where one of them is not known.

    A sum that is below 0 by no more than the counters' resolution is 0; one further below is left as it is, for `check_history` to
    leave out.
    """
    known = [dict(_hour_by_hour(flow)) for flow in flows]
    if not any(known):
        return []
    # A counter that was fitted later than the others begins the history; one that has nothing leaves all of it unknown.
    hour = max(min(hours) for hours in known if hours)
    last = max(max(hours) for hours in known if hours)
    rounding = -RESOLUTION_KWH * len(flows)
    result: list[Hour] = []
    while hour <= last:
        parts = [part for hours in known if (part := hours.get(hour)) is not None]
        if len(parts) < len(flows):
            result.append((hour, None))
        else:
            total = round(sum(flow.sign * part for flow, part in zip(flows, parts, strict=True)), 6)
            result.append((hour, 0.0 if rounding <= total < 0 else total))
        hour += _HOUR
    return result


def _hour_by_hour(flow: Flow) -> Iterator[tuple[datetime, float | None]]:
    """Yield what rose in each hour alone. None: a rise over several hours, which cannot be separated unless it is next to nothing."""
    most = WAKING_KWH if flow.sleeps else RESOLUTION_KWH
    before: datetime | None = None
    for start, kwh in flow.hours:
        hour = start.astimezone(UTC)
        if kwh is None or not isfinite(kwh):
            continue
        # The first one counts from a time that is not known.
        if before is not None:
            missing = [before + at * _HOUR for at in range(1, round((hour - before) / _HOUR))]
            apart = 0 <= kwh <= most or (not missing and kwh > 0)
            for gap in missing:
                yield gap, 0.0 if apart else None
            yield hour, kwh if apart else None
        before = hour
