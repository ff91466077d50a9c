"""What the sensors show of the nights."""

from collections.abc import Mapping
from typing import Any

from homeassistant.util import dt as dt_util

from .nights import Nights


def nights_counted(nights: Nights) -> Mapping[str, Any]:
    """How many nights the running total is of, and how many could not be calculated."""
    return {"nights_calculated": nights.calculated, "nights_not_calculated": nights.not_calculated}


def last_night(nights: Nights) -> Mapping[str, Any] | None:
    """Return what the last night was planned for and what came of it."""
    night = nights.over(dt_util.utcnow())
    if night is None or night.outcome is None:
        return None
    return {
        "night": night.evening.isoformat(),
        "planned_level": night.target_level,
        "level_reached": _rounded(night.outcome.level_reached, 1),
        "grid_charge_kwh": _rounded(night.outcome.grid_charge_kwh, 2),
        "cost": _rounded(night.outcome.cost, 4),
        "saving": _rounded(night.outcome.saving, 4),
        "why": night.why,
    }


def _rounded(value: float | None, digits: int) -> float | None:
    return None if value is None else round(value, digits)
