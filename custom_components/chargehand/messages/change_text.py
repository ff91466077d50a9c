"""What has changed, in words: of a schedule, and of a clock."""

from collections.abc import Sequence

from homeassistant.core import callback

from ..core.schedule import Change, Schedule, Window
from .house_time import time_shown
from .schedule_text import use_text, weekdays_text, window_text
from .setting_names import name_text
from .texts import text

CHANGES_NAMED = 8
"""More changes than this are counted, not named."""

UNITS = {"current", "power", "stop_level"}
"""Settings whose values have a unit."""


@callback
def changes_text(changes: Sequence[Change], key: str = "change", joint: str = ", ") -> str:
    """Return changes in one line: `charge window 1 start 22:40 to 01:00, charge window 1 power 3000 W to 500 W`."""
    texts = [
        text(key, what=name_text(one.what), was=_value(one.what, one.was), now=_value(one.what, one.now))
        for one in changes[:CHANGES_NAMED]
    ]
    if len(changes) > CHANGES_NAMED:
        texts.append(text("changes_more", count=len(changes) - CHANGES_NAMED))
    return joint.join(texts)


@callback
def activity_text(was: Schedule, now: Schedule) -> str:
    """Return what became of a schedule in one line, or that it is as it was."""
    return ", ".join(activity_texts(was, now)) or text("windows_as_they_were")


@callback
def foreign_text(changes: str, hand: str | None) -> str:
    """Return that another hand has changed the schedule; whose, if that is known."""
    return (
        text("log_changed_elsewhere", changes=changes)
        if hand is None
        else text("log_changed_by", changes=changes, by=hand)
    )


@callback
def activity_texts(was: Schedule, now: Schedule) -> list[str]:
    """Return what became of each window: `charge window 1 now 01:00–05:00 at 3000 W to 90 % (was 22:40–02:20 at 2000 W to 100 %)`."""
    texts = []
    if was.armed != now.armed:
        texts.append(text("windows_disarmed" if now.armed is False else "windows_armed"))
    for (side, number, old), (_, _, new) in zip(was.places(), now.places(), strict=True):
        if old != new and (_is_told(old) or _is_told(new)):
            window = name_text(f"{side}_window_{number}")
            texts.append(text("window_changed", window=window, now=_whole(new), was=_whole(old)))
    return texts


@callback
def clock_text(before: float, after: float, by: str) -> str:
    """Return what became of a clock that was set, from its offsets in s, and who asked for it."""
    key = "log_clock_was_ahead" if before > 0 else "log_clock_was_behind"
    return text(key, before=f"{abs(before):.0f}", after=f"{abs(after):.0f}", by=by)


def _is_told(window: Window) -> bool:
    """Return whether a place holds more than a window that does nothing."""
    return window.used or window.other_use is not None or not window.readable


def _value(what: str, value: str | float | bool | None) -> str:
    """Return a setting's value; times come as "HH:MM"."""
    if what.endswith("_other_use"):
        return use_text(None if value is None else str(value))
    if what.endswith("_days"):
        return weekdays_text(str(value))
    if value is None:
        return text("window_not_readable")
    if isinstance(value, bool):
        return text("value_on" if value else "value_off")
    if isinstance(value, str):
        return time_shown(value)
    setting = next(name for name in UNITS if what.endswith(name))
    return text(f"value_{setting}", value=f"{value:g}")


def _whole(window: Window) -> str:
    if not window.readable:
        return text("window_not_readable")
    if window.other_use is not None:
        return use_text(window.other_use)
    return window_text(window, "window_at") if window.used else text("window_unused")
