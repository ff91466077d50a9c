"""The inverter: whether it answers, what it can do, and the bounds of its windows."""

from datetime import datetime
from typing import Any

from homeassistant.config_entries import ConfigEntryState
from homeassistant.helpers import device_registry as dr

from ..const import CONF_ALLOW_CONTROL, CONF_REGISTER_MAP
from ..core.registers import NO_MAP, Limit, SchedulePoints
from ..core.schedule import Side, points_of
from ..messages import sentence
from .day_facts import DayFacts

WHY = {
    ConfigEntryState.SETUP_IN_PROGRESS: "day_starting",
    ConfigEntryState.UNLOAD_IN_PROGRESS: "day_stopping",
}
"""Why an inverter does not run, by the state of its entry; one that failed says why itself."""


def inverter(facts: DayFacts) -> dict[str, Any]:
    """Return what the card says of the inverter itself."""
    points = facts.known.points
    device = dr.async_get(facts.hass).async_get(facts.device_id)
    name = None if device is None else device.name_by_user or device.name
    return {
        "device_id": facts.device_id,
        "name": name or facts.entry.title,
        "available": facts.available,
        "last_read": _to_the_minute(facts.known.snapshot.read_at),
        "why": _why(facts),
        "mapped": facts.entry.data[CONF_REGISTER_MAP] != NO_MAP,
        "controls": bool(facts.entry.options.get(CONF_ALLOW_CONTROL)),
        "can": {str(side): points is not None and bool(points_of(points, side)) for side in Side},
    }


def _to_the_minute(read_at: datetime | None) -> str | None:
    """Return when it was last read, without seconds: what is read every few seconds need not be sent as often."""
    return None if read_at is None else read_at.replace(second=0, microsecond=0).isoformat()


def _why(facts: DayFacts) -> str | None:
    """Return why the inverter does not answer; None while it does."""
    coordinator, entry = facts.coordinator, facts.entry
    if facts.available:
        return None
    if coordinator is not None:
        return str(coordinator.last_exception or "") or sentence("day_not_running")
    if facts.removed:
        return sentence("day_removed")
    if entry.disabled_by is not None:
        return sentence("day_disabled")
    return entry.reason or sentence(WHY.get(entry.state, "day_not_running"))


def limits(facts: DayFacts) -> dict[str, Any] | None:
    """Return the bounds of windows, as their entities and the checks have them; None for a map without a schedule."""
    points = facts.known.points
    if points is None:
        return None
    return {
        "step_minutes": points.step_minutes,
        "midnight": points.crosses_midnight,
        **{str(side): _side(points, side) for side in Side},
    }


def _side(points: SchedulePoints, side: Side) -> dict[str, Any] | None:
    windows = points_of(points, side)
    if not windows:
        return None
    first = windows[0]
    limit = first.power or first.current
    return {
        "count": len(windows),
        "stop_level": None if first.stop_level is None else _bounds(first.stop_level),
        "limit": None if limit is None else {"unit": limit.unit, **_bounds(limit)},
    }


def _bounds(limit: Limit) -> dict[str, float | bool]:
    bounds: dict[str, float | bool] = {"min": limit.minimum, "max": limit.maximum, "step": limit.step}
    return {**bounds, "shared": True} if limit.shared else bounds
