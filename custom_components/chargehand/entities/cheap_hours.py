"""Triggers at moments of every night's cheap hours, for the inverters that an automation picks."""

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any, ClassVar, override

import voluptuous as vol
from homeassistant.config_entries import ConfigEntry
from homeassistant.const import CONF_OPTIONS, CONF_TARGET, Platform
from homeassistant.core import CALLBACK_TYPE, HomeAssistant, callback
from homeassistant.helpers import config_validation as cv
from homeassistant.helpers import entity_registry as er
from homeassistant.helpers.target import TargetEntityChangeTracker, TargetSelection
from homeassistant.helpers.trigger import TriggerActionRunner, TriggerConfig, TriggerNotTriggeredReporter
from homeassistant.helpers.typing import ConfigType
from homeassistant.util import dt as dt_util

from ..actions import BETWEEN_SCHEMA
from ..nights import NightAlarm, TonightHours
from .inverter_trigger import InverterTrigger
from .targets import showing

CONF_BETWEEN = "between"
CONF_LEAD = "lead"
BETWEEN = {vol.Optional(CONF_BETWEEN, default={}): BETWEEN_SCHEMA}
LEAD = vol.All(vol.Coerce(float), vol.Range(min=0, max=720))
"""Minutes."""


def _cheap_hours_schema(options: dict[Any, Any]) -> vol.Schema:
    return vol.Schema(
        {vol.Required(CONF_TARGET): cv.TARGET_FIELDS, vol.Required(CONF_OPTIONS, default={}): {**BETWEEN, **options}}
    )


CHEAP_HOURS_SCHEMA = _cheap_hours_schema({})
APPROACH_SCHEMA = _cheap_hours_schema({vol.Optional(CONF_LEAD, default=30): LEAD})


class NightAlarms(TargetEntityChangeTracker):
    """An alarm for each inverter among the targets."""

    def __init__(
        self, hass: HomeAssistant, target: TargetSelection, alarm: Callable[[ConfigEntry[Any]], NightAlarm]
    ) -> None:
        """Set alarms that `alarm` makes of an inverter's entry."""
        super().__init__(hass, target, lambda entities: showing(hass, Platform.EVENT, "schedule_event", entities))
        self._alarm = alarm
        self._alarms: dict[str, NightAlarm] = {}

    @callback
    @override
    def _handle_entities_update(self, tracked_entities: set[str]) -> None:
        registry = er.async_get(self._hass)
        ours = (registry.async_get(entity_id) for entity_id in tracked_entities)
        picked = {entity.config_entry_id for entity in ours if entity is not None and entity.config_entry_id}
        for entry_id in self._alarms.keys() - picked:
            self._alarms.pop(entry_id).stop()
        for entry_id in picked - self._alarms.keys():
            if (entry := self._hass.config_entries.async_get_entry(entry_id)) is not None:
                self._alarms[entry_id] = self._alarm(entry)
                self._alarms[entry_id].start()

    @override
    def _unsubscribe(self) -> None:
        super()._unsubscribe()
        while self._alarms:
            self._alarms.popitem()[1].stop()


class CheapHoursTrigger(InverterTrigger):
    """A moment of every night's cheap hours."""

    _schema: ClassVar[vol.Schema] = CHEAP_HOURS_SCHEMA
    _catches_up: ClassVar[bool] = False

    @classmethod
    @override
    async def async_validate_config(cls, hass: HomeAssistant, config: ConfigType) -> ConfigType:
        checked: ConfigType = cls._schema(config)
        return checked

    def __init__(self, hass: HomeAssistant, config: TriggerConfig) -> None:
        """Take the inverters and the hours."""
        super().__init__(hass, config)
        self._target = TargetSelection(config.target or {})
        self._options = config.options or {}
        between = self._options.get(CONF_BETWEEN, {})
        self._between = {edge: time for edge, time in between.items() if time is not None}

    def due(self, hours: TonightHours) -> datetime:
        """Return when to trigger."""
        raise NotImplementedError

    @override
    async def async_attach_runner(
        self, run_action: TriggerActionRunner, did_not_trigger: TriggerNotTriggeredReporter | None = None
    ) -> CALLBACK_TYPE:
        def alarm(entry: ConfigEntry[Any]) -> NightAlarm:
            def ring(hours: TonightHours) -> None:
                begins, ends = dt_util.as_local(hours.begins), dt_util.as_local(hours.ends)
                payload = {"inverter": entry.title, "begins": begins, "ends": ends}
                run_action(payload, f"cheap hours from {hours.start} to {hours.end}")

            return NightAlarm(self._hass, entry, self._between, self.due, ring, catches_up=self._catches_up)

        return await NightAlarms(self._hass, self._target, alarm).async_setup()


class CheapHoursApproach(CheapHoursTrigger):
    """The cheap hours are near, or have begun without this having triggered for them."""

    _schema = APPROACH_SCHEMA
    _catches_up = True

    @override
    def due(self, hours: TonightHours) -> datetime:
        return hours.begins - timedelta(minutes=self._options[CONF_LEAD])


class CheapHoursStarted(CheapHoursTrigger):
    """The cheap hours begin."""

    @override
    def due(self, hours: TonightHours) -> datetime:
        return hours.begins


class CheapHoursEnded(CheapHoursTrigger):
    """The cheap hours are over."""

    @override
    def due(self, hours: TonightHours) -> datetime:
        return hours.ends
