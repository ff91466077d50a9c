"""Conditions that the automation editor offers for an inverter."""

from typing import override

from homeassistant.const import PERCENTAGE, STATE_ON, Platform
from homeassistant.core import HomeAssistant
from homeassistant.helpers.automation import DomainSpec
from homeassistant.helpers.condition import Condition, EntityNumericalConditionBase, EntityStateConditionBase

from .standing import ScheduleStatus
from .targets import showing

ON_BINARY_SENSOR = {str(Platform.BINARY_SENSOR): DomainSpec()}
ON_SENSOR = {str(Platform.SENSOR): DomainSpec()}

INSIDE: set[str | bool] = {STATE_ON}
CONFIRMED: set[str | bool] = {ScheduleStatus.CONFIRMED}


class ChargesBySchedule(EntityStateConditionBase):
    """The inverter is inside an armed charge window."""

    _domain_specs = ON_BINARY_SENSOR
    _states = INSIDE

    @override
    def entity_filter(self, entities: set[str]) -> set[str]:
        return showing(self._hass, Platform.BINARY_SENSOR, "charging_by_schedule", entities)


class ScheduleIsConfirmed(EntityStateConditionBase):
    """The inverter holds the schedule that was read back last."""

    _domain_specs = ON_SENSOR
    _states = CONFIRMED

    @override
    def entity_filter(self, entities: set[str]) -> set[str]:
        return showing(self._hass, Platform.SENSOR, "schedule_status", entities)


class LevelIs(EntityNumericalConditionBase):
    """The battery's level is above, below, between or outside of what is given, in %."""

    _domain_specs = ON_SENSOR
    _valid_unit = PERCENTAGE

    @override
    def entity_filter(self, entities: set[str]) -> set[str]:
        return showing(self._hass, Platform.SENSOR, "battery_level", entities)


CONDITIONS: dict[str, type[Condition]] = {
    "is_charging_by_schedule": ChargesBySchedule,
    "is_schedule_confirmed": ScheduleIsConfirmed,
    "is_level": LevelIs,
}


async def async_get_conditions(hass: HomeAssistant) -> dict[str, type[Condition]]:
    """The conditions, by name."""
    return CONDITIONS
