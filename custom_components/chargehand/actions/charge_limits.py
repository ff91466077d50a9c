"""The fields `limit` and `limit_unit` of actions that charge: of a window, and of the plan for it."""

from collections.abc import Mapping
from typing import Any

import voluptuous as vol
from homeassistant.helpers import config_validation as cv
from homeassistant.helpers.typing import VolDictType

from ..coordinator import ChargehandCoordinator
from .numbers import number, or_empty
from .plan_charge import kilowatts

WATTS, AMPERES = "w", "a"
PER_KILO = 1000
ABOVE_0 = vol.All(number, vol.Range(min=0, min_included=False))

LIMIT_FIELDS: VolDictType = {
    vol.Optional("limit"): or_empty(ABOVE_0),
    vol.Optional("limit_unit", default=WATTS): vol.All(cv.string, vol.Lower, vol.In([WATTS, AMPERES])),
}


def window_limit(asked: Mapping[str, Any], battery: Mapping[str, Any]) -> dict[str, float]:
    """Return the limit of a window: the one given, else the battery's; without either, what the inverter holds."""
    if "limit" in asked:
        return {"power" if asked["limit_unit"] == WATTS else "current": asked["limit"]}
    return {"power": float(battery["charge_kw"]) * PER_KILO} if "charge_kw" in battery else {}


def most_kw(coordinator: ChargehandCoordinator, asked: Mapping[str, Any]) -> float | None:
    """Return the limit that was given, in kW, for a plan to keep to; a current by the battery's voltage of now."""
    if "limit" not in asked:
        return None
    limit: float = asked["limit"]
    if asked["limit_unit"] == WATTS:
        return limit / PER_KILO
    return kilowatts(limit, coordinator.data.values.get("battery_voltage"))
