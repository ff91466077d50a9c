"""A schedule in words, for messages and logs."""

from collections.abc import Sequence

from .schedule.windows import Change, Schedule, Side, Window, time_text

CHANGES_TOLD = 8
"""More changes than this are counted, not told."""

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


def change_text(change: Change) -> str:
    """One change: `charge window 1 start 23:00 to 23:40`."""
    return f"{change.what.replace('_', ' ')} {_value(change.was)} to {_value(change.now)}"


def changes_text(changes: Sequence[Change]) -> str:
    """Changes in one line."""
    told = [change_text(change) for change in changes[:CHANGES_TOLD]]
    if len(changes) > CHANGES_TOLD:
        told.append(f"and {len(changes) - CHANGES_TOLD} more")
    return ", ".join(told)


def _value(value: str | float | bool | None) -> str:
    if isinstance(value, bool):
        return "on" if value else "off"
    return f"{value:g}" if isinstance(value, float) else str(value)
