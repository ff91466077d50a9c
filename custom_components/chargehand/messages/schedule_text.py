"""A schedule in words, for messages and logs."""

from collections.abc import Sequence

from ..core.schedule import Change, Schedule, Side, Window, time_text

CHANGES_NAMED = 8
"""More changes than this are counted, not named."""

UNITS = {"current": "A", "power": "W"}
UNITS_OF_SETTINGS = {**UNITS, "stop_level": "%"}


def window_text(window: Window, joint: str = "") -> str:
    """One window: `01:00–05:00 3000 W to 95 %`; `joint` comes before what it charges at."""
    parts = [f"{time_text(window.start)}–{time_text(window.end)}{joint}"]
    for name, unit in UNITS.items():
        value = getattr(window, name)
        if value is not None:
            parts.append(f"{value:g} {unit}")
    if window.stop_level is not None:
        parts.append(f"to {window.stop_level:g} %")
    return " ".join(parts)


def schedule_text(schedule: Schedule) -> str:
    """Return a schedule: its used windows side by side, and whether they act."""
    parts = []
    for side in Side:
        texts = [
            window_text(window) if window.readable else f"window {number} not readable"
            for number, window in enumerate(schedule.side(side), start=1)
            if window.used or not window.readable
        ]
        parts.append(f"{side} {', '.join(texts) if texts else 'never'}")
    if schedule.armed is not None:
        parts.append("armed" if schedule.armed else "not armed")
    return "; ".join(parts)


def change_text(change: Change) -> str:
    """One change: `charge window 1 start 22:40 to 01:00`, `charge window 1 power 3000 W to 500 W`."""
    unit = next((f" {unit}" for name, unit in UNITS_OF_SETTINGS.items() if change.what.endswith(name)), "")
    return f"{change.what.replace('_', ' ')} {_value(change.was)}{unit} to {_value(change.now)}{unit}"


def changes_text(changes: Sequence[Change]) -> str:
    """Return changes in one line."""
    texts = [change_text(change) for change in changes[:CHANGES_NAMED]]
    if len(changes) > CHANGES_NAMED:
        texts.append(f"and {len(changes) - CHANGES_NAMED} more")
    return ", ".join(texts)


def _value(value: str | float | bool | None) -> str:
    if isinstance(value, bool):
        return "on" if value else "off"
    return f"{value:g}" if isinstance(value, float) else str(value)


def activity_text(was: Schedule, now: Schedule) -> str:
    """Return what became of a schedule: `charge window 1 now 01:00–05:00 at 3000 W to 90 % (was 22:40–02:20 at 2000 W to 100 %)`."""
    texts = []
    if was.armed != now.armed:
        texts.append(f"windows now {_armed(now)} (were {_armed(was)})")
    for (side, number, old), (_, _, new) in zip(was.places(), now.places(), strict=True):
        if old != new and not (old.readable and new.readable and not old.used and not new.used):
            texts.append(f"{side} window {number} now {_limits_text(new)} (was {_limits_text(old)})")
    return ", ".join(texts) if texts else "its windows as they were"


def clock_text(before: float, after: float) -> str:
    """Return what became of a clock, from its offsets in s: `was 65 s ahead and is now 1 s off`."""
    return f"was {abs(before):.0f} s {'ahead' if before > 0 else 'behind'} and is now {abs(after):.0f} s off"


def _limits_text(window: Window) -> str:
    if not window.readable:
        return "not readable"
    return window_text(window, " at") if window.used else "unused"


def _armed(schedule: Schedule) -> str:
    return "not armed" if schedule.armed is False else "armed"


def charge_text(window: Window) -> str:
    """Return what a charge window asks for: `Charge to 90 % at 40 A`."""
    parts = ["Charge"]
    if window.stop_level is not None:
        parts.append(f"to {window.stop_level:g} %")
    parts += [
        f"at {getattr(window, name):g} {unit}" for name, unit in UNITS.items() if getattr(window, name) is not None
    ]
    return " ".join(parts)


def charged_text(reached: float | None, wanted: float | None) -> str:
    """Return what a charge window brought: `Charged to 87 % (wanted 90 %)`."""
    texts = "Charged, level at the end not seen" if reached is None else f"Charged to {reached:g} %"
    return texts if wanted is None else f"{texts} (wanted {wanted:g} %)"
