"""A schedule in words, for messages and logs."""

from .schedule.windows import Schedule, Side, Window, time_text

UNITS = {"current": "A", "power": "W"}


def window_text(window: Window) -> str:
    """One window: `23:40–05:10 40 A to 95 %`."""
    parts = [f"{time_text(window.start)}–{time_text(window.end)}"]
    for name, unit in UNITS.items():
        value = getattr(window, name)
        if value is not None:
            parts.append(f"{value:g} {unit}")
    if window.stop_level is not None:
        parts.append(f"to {window.stop_level:g} %")
    return " ".join(parts)


def schedule_text(schedule: Schedule) -> str:
    """A schedule: its used windows side by side, and whether they act."""
    parts = []
    for side in Side:
        used = [window_text(window) for window in schedule.side(side) if window.used]
        parts.append(f"{side} {', '.join(used) if used else 'never'}")
    if schedule.armed is not None:
        parts.append("armed" if schedule.armed else "not armed")
    return "; ".join(parts)
