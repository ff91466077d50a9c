"""A schedule in words, for messages and logs."""

from homeassistant.core import callback

from ..core.schedule import Schedule, Side, Window, days_text
from .house_time import minute_text
from .setting_names import name_text
from .texts import text

NAMED_USES = frozenset({"charge", "discharge", "hold"})
"""What a map can name of what a place is used for."""


@callback
def schedule_text(schedule: Schedule) -> str:
    """Return a schedule: its used windows side by side, and whether they act."""
    parts = [_side_text(side, schedule.side(side)) for side in Side]
    if schedule.armed is not None:
        parts.append(text("schedule_armed" if schedule.armed else "schedule_not_armed"))
    return "; ".join(parts)


def _side_text(side: Side, windows: tuple[Window, ...]) -> str:
    shown = [
        _place_text(window, number)
        for number, window in enumerate(windows, start=1)
        if window.used or window.other_use is not None or not window.readable
    ]
    return text(f"schedule_{side}", windows=", ".join(shown)) if shown else text(f"schedule_{side}_never")


def _place_text(window: Window, number: int) -> str:
    if window.other_use is not None:
        times = {"start": minute_text(window.start), "end": minute_text(window.end)}
        return text("schedule_window_other_use", number=number, use=use_text(window.other_use), **times)
    return window_text(window) if window.readable else text("schedule_window_not_readable", number=number)


@callback
def set_elsewhere_texts(schedule: Schedule) -> list[str]:
    """Return what Chargehand never sets, place by place: `charge window 2: used for holding 17:00–20:00`, and windows of fewer days."""
    texts = []
    for side, number, window in schedule.places():
        if window.other_use is not None:
            times = {"start": minute_text(window.start), "end": minute_text(window.end)}
            now = text("place_used_for", use=use_text(window.other_use), **times)
        elif window.used and window.days is not None:
            now = window_text(window)
        else:
            continue
        texts.append(text("place_now", place=name_text(f"{side}_window_{number}"), now=now))
    return texts


@callback
def use_text(use: str | None) -> str:
    """Return what a place is used for instead of a window of its side: `holding`, or the mode that its map does not name."""
    if use is None:
        return text("use_none")
    return text(f"use_{use}") if use in NAMED_USES else text("use_other", value=use)


@callback
def weekdays_text(days: str) -> str:
    """Return days of the week from their keys, side by side: `Monday, Friday`."""
    return ", ".join(text(f"weekday_{day}") for day in days.split(","))


@callback
def window_text(window: Window, kind: str = "window") -> str:
    """Return a window: `01:00–05:00 3000 W to 95 %`. `kind` is its text's key, which goes on with what it has: `_limit`, `_level`."""
    limit, level = limit_text(window), window.stop_level
    key = kind + ("_limit" if limit else "") + ("_level" if level is not None else "")
    times = {"start": minute_text(window.start), "end": minute_text(window.end)}
    shown = text(key, **times, limit=limit, level="" if level is None else f"{level:g}")
    return (
        shown
        if window.days is None
        else text("window_on_days", window=shown, days=weekdays_text(days_text(window.days)))
    )


@callback
def limit_text(window: Window) -> str:
    """Return what a window charges or discharges with: `40 A`. Empty where it has no such setting."""
    limits = {"current": window.current, "power": window.power}
    return " ".join(text(f"value_{name}", value=f"{value:g}") for name, value in limits.items() if value is not None)


@callback
def charge_text(window: Window) -> str:
    """Return what a charge window asks for: `Charge to 90 % at 40 A`."""
    return window_text(window, "charge")


@callback
def charged_text(reached: float | None, wanted: float | None) -> str:
    """Return what a charge window brought: `Charged to 87 % (wanted 90 %)`."""
    key = "charged" + ("_not_seen" if reached is None else "") + ("" if wanted is None else "_wanted")
    return text(
        key, **{name: f"{value:g}" for name, value in (("reached", reached), ("wanted", wanted)) if value is not None}
    )
