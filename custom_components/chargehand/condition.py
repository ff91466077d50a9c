"""Conditions that the automation editor offers for an inverter."""

from homeassistant.const import STATE_ON, UnitOfRatio
from homeassistant.core import HomeAssistant
from homeassistant.helpers.condition import Condition, EntityNumericalConditionBase, EntityStateConditionBase

from .changes import ScheduleStatus
from .entities import ON_BINARY_SENSOR, ON_SENSOR, OfOneKey

INSIDE: set[str | bool] = {STATE_ON}
CONFIRMED: set[str | bool] = {ScheduleStatus.CONFIRMED}


class ChargesBySchedule(OfOneKey, EntityStateConditionBase):
    """The inverter is inside an armed charge window."""

    _domain_specs = ON_BINARY_SENSOR
    _key = "charging_by_schedule"
    _states = INSIDE


class ScheduleIsConfirmed(OfOneKey, EntityStateConditionBase):
    """The inverter holds the schedule that was read back last."""

    _domain_specs = ON_SENSOR
    _key = "schedule_status"
    _states = CONFIRMED


class LevelIs(OfOneKey, EntityNumericalConditionBase):
    """The battery's level is above, below, between or outside of what is given, in %."""

    _domain_specs = ON_SENSOR
    _key = "battery_level"
    _valid_unit = UnitOfRatio.PERCENTAGE


CONDITIONS: dict[str, type[Condition]] = {
    "is_charging_by_schedule": ChargesBySchedule,
    "is_schedule_confirmed": ScheduleIsConfirmed,
    "is_level": LevelIs,
}


async def async_get_conditions(hass: HomeAssistant) -> dict[str, type[Condition]]:
    """Return the conditions, by name."""
    return CONDITIONS
