"""Triggers that the automation editor offers for an inverter."""

from enum import StrEnum
from typing import ClassVar, override

import voluptuous as vol
from homeassistant.const import CONF_OPTIONS, STATE_OFF, STATE_ON
from homeassistant.core import HomeAssistant, State
from homeassistant.helpers.trigger import (
    ENTITY_STATE_TRIGGER_SCHEMA,
    EntityTriggerBase,
    NotTriggeredReasonReporter,
    StatelessEntityTriggerBase,
    Trigger,
    TriggerConfig,
)

from .changes import ScheduleEvent
from .entities import (
    ON_BINARY_SENSOR,
    ON_EVENT,
    ON_SENSOR,
    BatteryRoomTrigger,
    CheapHoursApproach,
    CheapHoursEnded,
    CheapHoursStarted,
    ForeignChangeTrigger,
    InverterTrigger,
    OfOneKey,
)

CONF_LEVEL = "level"
CONF_DIRECTION = "direction"


class Direction(StrEnum):
    """Which way a level is reached."""

    RISING = "rising"
    FALLING = "falling"


LEVEL_SCHEMA = ENTITY_STATE_TRIGGER_SCHEMA.extend(
    {
        vol.Required(CONF_OPTIONS): {
            vol.Required(CONF_LEVEL): vol.All(vol.Coerce(float), vol.Range(min=0, max=100)),
            vol.Optional(CONF_DIRECTION, default=Direction.RISING): vol.Coerce(Direction),
        }
    }
)


class WindowTrigger(OfOneKey, InverterTrigger, EntityTriggerBase):
    """The battery begins, or ends, to charge by schedule. Windows that follow each other without a gap are one."""

    _domain_specs = ON_BINARY_SENSOR
    _key = "charging_by_schedule"
    _schema = ENTITY_STATE_TRIGGER_SCHEMA
    _to: ClassVar[str]

    @override
    def is_valid_state(self, state: State, report_not_triggered: NotTriggeredReasonReporter) -> bool:
        return state.state == self._to


class WindowStarted(WindowTrigger):
    """A charge window starts to act."""

    _to = STATE_ON


class WindowEnded(WindowTrigger):
    """A charge window acts no longer."""

    _to = STATE_OFF


class LevelReached(OfOneKey, InverterTrigger, EntityTriggerBase):
    """The battery's level comes to a value from below (rising), or from above (falling)."""

    _domain_specs = ON_SENSOR
    _key = "battery_level"
    _schema = LEVEL_SCHEMA

    def __init__(self, hass: HomeAssistant, config: TriggerConfig) -> None:
        """Take the level in % and the direction."""
        super().__init__(hass, config)
        self._level: float = self._options[CONF_LEVEL]
        self._rising = self._options[CONF_DIRECTION] is Direction.RISING

    @override
    def is_valid_state(self, state: State, report_not_triggered: NotTriggeredReasonReporter) -> bool:
        return self._there(state)

    @override
    def is_valid_transition(self, from_state: State, to_state: State) -> bool:
        return not self._there(from_state)

    def _there(self, state: State) -> bool:
        level = float(state.state)
        return level >= self._level if self._rising else level <= self._level


class ScheduleTrigger(OfOneKey, InverterTrigger, StatelessEntityTriggerBase):
    """Something happens to the schedule."""

    _domain_specs = ON_EVENT
    _key = "schedule_event"
    _events: ClassVar[frozenset[ScheduleEvent]]

    @override
    def is_valid_state(self, state: State, report_not_triggered: NotTriggeredReasonReporter) -> bool:
        return state.attributes.get("event_type") in self._events


class ScheduleChangedElsewhere(ScheduleTrigger):
    """Another hand changed the schedule."""

    _events = frozenset({ScheduleEvent.CHANGED_ELSEWHERE})


class ScheduleConfirmed(ScheduleTrigger):
    """A change of the schedule was read back from the inverter."""

    _events = frozenset({ScheduleEvent.CONFIRMED})


class OrderEnded(ScheduleTrigger):
    """An order that had to wait is done, has failed, or has expired."""

    _events = frozenset({ScheduleEvent.ORDER_DONE, ScheduleEvent.ORDER_FAILED, ScheduleEvent.ORDER_EXPIRED})


TRIGGERS: dict[str, type[Trigger]] = {
    "battery_room": BatteryRoomTrigger,
    "charge_window_started": WindowStarted,
    "charge_window_ended": WindowEnded,
    "cheap_hours_approach": CheapHoursApproach,
    "cheap_hours_started": CheapHoursStarted,
    "cheap_hours_ended": CheapHoursEnded,
    "change_needs_decision": ForeignChangeTrigger,
    "level_reached": LevelReached,
    "schedule_changed_elsewhere": ScheduleChangedElsewhere,
    "order_ended": OrderEnded,
    "schedule_confirmed": ScheduleConfirmed,
}


async def async_get_triggers(hass: HomeAssistant) -> dict[str, type[Trigger]]:
    """Return the triggers, by name."""
    return TRIGGERS
