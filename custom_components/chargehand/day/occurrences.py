"""When windows act in the band: those to come by the schedule, and the charge windows that have acted."""

from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

from ..actions import kilowatts
from ..core.inverter import clock_ahead
from ..core.schedule import Acting, Schedule, Side, Window, acting_times, inverter_time, shift_minutes
from .band import Band
from .day_facts import DayFacts, Remembered

PER_KILO = 1000
SHORTEST = timedelta(minutes=1)
"""A charge that was replaced sooner than this is no part of the picture: its handles would lie over the window that took its place."""


def acting(facts: DayFacts) -> dict[str, Any]:
    """Return when the windows held act, and those of the draft."""
    held, drafted = facts.held, facts.drafted
    coming = [] if held is None else occurrences(facts.known, held, facts.band, facts.now)
    return {
        "held": _acted(facts) + coming,
        "draft": None if drafted is None else occurrences(facts.known, drafted, facts.band, facts.now),
    }


def occurrences(known: Remembered, schedule: Schedule, band: Band, now: datetime) -> list[dict[str, Any]]:
    """Return every time from `now` to the band's end that a window acts, by the inverter's clock; all as if they were armed."""
    ahead: timedelta = clock_ahead(known.snapshot)

    def shows(at: datetime) -> datetime:
        return inverter_time(known.keeps, at, band.zone) + ahead

    armed, shift = replace(schedule, armed=None), shift_minutes(known.keeps, now, band.zone)
    volts = known.snapshot.values.get("battery_voltage")
    found = [(side, one) for side in Side for one in acting_times(armed, shows, shift, now, band.end, side=side)]
    return [_occurrence(side, one, volts) for side, one in sorted(found, key=lambda each: each[1].start)]


def _occurrence(side: Side, one: Acting, volts: object) -> dict[str, Any]:
    return {
        "side": str(side),
        "number": one.number,
        "start": one.start.isoformat(),
        "end": one.end.isoformat(),
        "stop_level": one.window.stop_level,
        "power_kw": _power(one.window, volts),
    }


def _power(window: Window, volts: object) -> float | None:
    """Return a window's limit in kW; a current by the battery's voltage of now, which is never quite still."""
    if window.power is not None:
        return round(window.power / PER_KILO, 3)
    by_current = None if window.current is None else kilowatts(window.current, volts)
    return None if by_current is None else round(by_current, 1)


def _acted(facts: DayFacts) -> list[dict[str, Any]]:
    """Return the charge windows that have acted in the band. Discharge windows are not followed."""
    return [
        {
            "side": str(Side.CHARGE),
            "number": one.number,
            "start": one.start.isoformat(),
            "end": one.end.isoformat(),
            "stop_level": one.wanted,
            "power_kw": None,
        }
        for one in facts.known.past.past
        if one.end > facts.band.start and one.end - one.start >= SHORTEST
    ]
