"""Why a night's charge was short."""

from collections.abc import Sequence
from datetime import timedelta

from .night_facts import NightFacts
from .reasons import Reason
from .schedule import Acting, Schedule

CLOCK_OFF_S = 300
"""A clock that is further off moves the hours noticeably."""

NOMINAL_V = 51.2
"""The nominal voltage of 16 cells of 3.2 V (common practice, no source). It only separates a limit that was used from one that was not."""

USED = 0.7
"""The share of what the limit allows from which a charge had all that the windows gave it; losses and tapering take the rest."""

HOUR = timedelta(hours=1)
FULL = 100.0


def short_reason(facts: NightFacts, level: float | None, least: float | None) -> Reason:
    """Return the first reason that fits why the battery is at `level` and not at `least`, in %. None: that level is not known."""
    if facts.held is None or level is None:
        return Reason(key="short_no_answer")
    return _from_changes(facts) or _from_schedule(facts, facts.held, least) or _from_battery(facts)


def _from_changes(facts: NightFacts) -> Reason | None:
    """Return whether the inverter does not hold what was set."""
    if facts.unproven:
        return Reason(key="short_unproven")
    if facts.changed_elsewhere is not None:
        return Reason.of("short_changed_elsewhere", changes=facts.changed_elsewhere)
    if facts.not_taken is not None:
        return Reason.of("short_not_taken", message=facts.not_taken)
    return None


def _from_schedule(facts: NightFacts, held: Schedule, least: float | None) -> Reason | None:
    """Return whether its schedule or its clock could not lead to that level."""
    if held.armed is False:
        return Reason(key="short_not_armed")
    windows = [window for window in held.charge if window.used]
    if not windows:
        return Reason(key="short_no_window")
    stop = max(FULL if window.stop_level is None else window.stop_level for window in windows)
    if least is not None and stop < least:
        return Reason.of("short_stops", level=f"{stop:g}")
    if abs(facts.clock_ahead) > CLOCK_OFF_S:
        key = "short_clock_ahead" if facts.clock_ahead > 0 else "short_clock_behind"
        return Reason.of(key, minutes=f"{abs(facts.clock_ahead) / 60:.0f}")
    return None


def _from_battery(facts: NightFacts) -> Reason:
    """Return what kept the battery from accepting more."""
    if facts.alarms:
        return Reason.of("short_alarms", alarms=", ".join(facts.alarms))
    if not facts.ended:
        return Reason(key="short_none_ended")
    most, came = _most_kwh(facts.ended), facts.grid_charge_kwh
    if came is None or not most:
        return Reason(key="short_hours_or_battery")
    return Reason(key="short_hours" if came > USED * most else "short_battery")


def _most_kwh(ended: Sequence[Acting]) -> float:
    """Return what the windows' limits would have let in, in kWh; 0 where they have none."""
    watts = (
        one.window.power if one.window.power is not None else (one.window.current or 0.0) * NOMINAL_V for one in ended
    )
    return sum(watt / 1000 * ((one.end - one.start) / HOUR) for watt, one in zip(watts, ended, strict=True))
