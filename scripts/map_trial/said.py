"""What the simulated inverter would do, in words."""

from collections.abc import Iterator

from custom_components.chargehand.core.registers import SchedulePoints
from custom_components.chargehand.core.schedule import Schedule, Side, Window, read_schedule, time_text

from .inverter import TrialInverter


def acting(inverter: TrialInverter) -> str:
    """Return the windows as lines, each with whether it acts."""
    points = inverter.map.schedule
    if points is None:
        return "The map has no schedule."
    acts, holds = read_schedule(points, inverter.acts_on), read_schedule(points, inverter.holds)
    lines = [*_windows(acts)] or ["no window acts"]
    if acts != holds:
        unsaved = [
            f"{side} window {number}: {_words(window)}" for side, number, window in holds.places() if window.used
        ]
        lines.append(f"written and not saved: {'; '.join(unsaved) or 'no window'}")
    return "\n".join(f"  {line}" for line in lines)


def _windows(schedule: Schedule) -> Iterator[str]:
    for side, number, window in schedule.places():
        if not window.readable:
            yield f"{side} window {number}: its registers hold no times"
        elif window.used:
            yield f"{side} window {number}: {_words(window)}: {_does(schedule, window)}"


def _does(schedule: Schedule, window: Window) -> str:
    if schedule.armed is False:
        return "does not act, nothing arms it"
    return "does nothing, its limit is 0" if 0 in {window.current, window.power} else "acts"


def _words(window: Window) -> str:
    values = ((window.current, "A"), (window.power, "W"), (window.stop_level, "%"))
    limits = "".join(f", {value:g} {unit}" for value, unit in values if value is not None)
    return f"{time_text(window.start)}-{time_text(window.end)}{limits}"


def places(points: SchedulePoints | None) -> str:
    """Return how many windows of each side the map has."""
    if points is None:
        return "no windows"
    counts = ((side, len(points.charge if side is Side.CHARGE else points.discharge)) for side in Side)
    return " and ".join(f"{count} {side} window{'s' if count != 1 else ''}" for side, count in counts if count)
