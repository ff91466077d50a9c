"""The trigger that watches the room where the battery stands, and whether the inverter's charge is armed meanwhile."""

from collections.abc import Iterable
from contextlib import ExitStack
from datetime import datetime, timedelta
from typing import Any, override

import voluptuous as vol
from homeassistant.const import CONF_OPTIONS, CONF_TARGET, STATE_OFF, STATE_ON
from homeassistant.core import CALLBACK_TYPE, Event, HomeAssistant, callback
from homeassistant.helpers import config_validation as cv
from homeassistant.helpers.event import async_track_state_change_event, async_track_time_change
from homeassistant.helpers.translation import async_get_translations
from homeassistant.helpers.trigger import TriggerActionRunner, TriggerConfig, TriggerNotTriggeredReporter
from homeassistant.helpers.typing import ConfigType
from homeassistant.util import dt as dt_util

from ..changes import Deadline
from ..const import DOMAIN, EVENT_ORDER, EVENT_SCHEDULE
from ..core.battery_room import BatteryRoom, RoomEvent, RoomLimits, RoomNews, RoomReading
from ..core.order import OrderKind, OrderState
from ..core.schedule import charges, number_of
from ..messages import charging_text, room_text, sentence
from .inverter_trigger import InverterTrigger
from .picked_inverters import PickedInverters

CONF_SMOKE, CONF_TEMPERATURES = "smoke", "temperatures"
CONF_LOW, CONF_HIGH, CONF_HYSTERESIS = "low", "high", "hysteresis"
CONF_MINUTES, CONF_LOST = "minutes", "lost"

OUTCOME = "outcome"
"""How an order to stop the charge, or to start it again, has ended."""

OF_GUARD = {OrderKind.STOP_CHARGING, OrderKind.RESUME_CHARGING}

MINUTES = vol.All(vol.Coerce(float), vol.Range(min=0, max=1440))

BATTERY_ROOM_SCHEMA = vol.Schema(
    {
        vol.Required(CONF_TARGET): cv.TARGET_FIELDS,
        vol.Required(CONF_OPTIONS): {
            vol.Optional(CONF_SMOKE, default=[]): cv.entity_ids,
            vol.Optional(CONF_TEMPERATURES, default=[]): cv.entity_ids,
            vol.Optional(CONF_LOW, default=2): vol.Coerce(float),
            vol.Optional(CONF_HIGH, default=40): vol.Coerce(float),
            vol.Optional(CONF_HYSTERESIS, default=2): vol.All(vol.Coerce(float), vol.Range(min=0)),
            vol.Optional(CONF_MINUTES, default=10): MINUTES,
            vol.Optional(CONF_LOST, default=30): MINUTES,
        },
    }
)


class BatteryRoomTrigger(InverterTrigger):
    """Something happens in the battery's room that people should know, or that the charge should be stopped for."""

    @classmethod
    @override
    async def async_validate_config(cls, hass: HomeAssistant, config: ConfigType) -> ConfigType:
        checked: ConfigType = BATTERY_ROOM_SCHEMA(config)
        options = checked[CONF_OPTIONS]
        # An automation may be read before Chargehand and its texts are.
        await async_get_translations(hass, "en", "exceptions", {DOMAIN})
        if not options[CONF_SMOKE] and not options[CONF_TEMPERATURES]:
            raise vol.Invalid(sentence("room_no_sensor"))
        if options[CONF_LOW] + 2 * options[CONF_HYSTERESIS] >= options[CONF_HIGH]:
            raise vol.Invalid(sentence("room_no_range"))
        return checked

    def __init__(self, hass: HomeAssistant, config: TriggerConfig) -> None:
        """Take the inverter, the sensors and the limits."""
        super().__init__(hass, config)
        options: dict[str, Any] = config.options or {}
        self._picked = PickedInverters(hass, config.target)
        self._smoke: list[str] = options[CONF_SMOKE]
        self._temperatures: list[str] = options[CONF_TEMPERATURES]
        lost = timedelta(minutes=options[CONF_LOST])
        self._limits = RoomLimits(
            low=options[CONF_LOW],
            high=options[CONF_HIGH],
            hysteresis=options[CONF_HYSTERESIS],
            lasting=timedelta(minutes=options[CONF_MINUTES]),
            lost=lost or None,
        )

    @override
    async def async_attach_runner(
        self, run_action: TriggerActionRunner, did_not_trigger: TriggerNotTriggeredReporter | None = None
    ) -> CALLBACK_TYPE:
        room = BatteryRoom(self._limits)
        leaving = ExitStack()

        def report(found: Iterable[RoomNews]) -> None:
            for news in found:
                run_action(self._payload(news), f"battery room: {news.event}")

        @callback
        def look(_event: Event[Any] | None = None) -> None:
            now = dt_util.utcnow()
            report(room.see(self._reading(), now))
            due.set(room.due(now))

        @callback
        def noon(_now: datetime) -> None:
            report(room.remind(dt_util.utcnow()))

        @callback
        def ended(event: Event[Any]) -> None:
            if (
                self._picked.concerns(event)
                and event.data["what"] in OF_GUARD
                and event.data["state"] != OrderState.WAITING
            ):
                message = {"title": event.data["title"], "message": event.data["message"]}
                run_action({"kind": OUTCOME, **message}, f"battery room: {OUTCOME}")

        due = Deadline(self._hass, look)
        leaving.callback(due.set, None)
        leaving.callback(async_track_state_change_event(self._hass, self._smoke + self._temperatures, look))
        leaving.callback(self._hass.bus.async_listen(EVENT_SCHEDULE, look))
        leaving.callback(self._hass.bus.async_listen(EVENT_ORDER, ended))
        leaving.callback(async_track_time_change(self._hass, noon, hour=12, minute=0, second=0))
        look()
        return leaving.close

    def _reading(self) -> RoomReading:
        return RoomReading(
            smoke={entity_id: self._is_on(entity_id) for entity_id in self._smoke},
            temperatures={entity_id: self._number(entity_id) for entity_id in self._temperatures},
            charges=self._charges(),
        )

    def _is_on(self, entity_id: str) -> bool | None:
        state = self._hass.states.get(entity_id)
        return {STATE_ON: True, STATE_OFF: False}.get("" if state is None else state.state)

    def _number(self, entity_id: str) -> float | None:
        state = self._hass.states.get(entity_id)
        return None if state is None else number_of(state.state)

    def _payload(self, news: RoomNews) -> dict[str, Any]:
        """Return what the automation receives; `charging` says whether the charge is armed, in words."""
        sensors = [(entity_id, self._hass.states.get(entity_id)) for entity_id in news.sensors]
        message = room_text(news, self._limits, sensors, charges=self._charges()).as_dict()
        if news.event is RoomEvent.ARMED and not news.again:
            message = {"title": None, "message": None}
        return {"kind": str(news.event), "sensors": list(news.sensors), "charging": self._charging(), **message}

    # ---- the inverter

    def _charges(self) -> bool | None:
        """Return whether the charge is armed; None while that is not known, or while an order to stop it waits."""
        coordinator = self._picked.coordinator()
        if coordinator is None or not coordinator.last_update_success or coordinator.data.schedule is None:
            return None
        orders = coordinator.orders
        if orders.state is OrderState.WAITING and orders.order and orders.order.what is OrderKind.STOP_CHARGING:
            return None
        return charges(coordinator.data.schedule)

    def _charging(self) -> str:
        coordinator = self._picked.coordinator()
        held = None if coordinator is None else coordinator.data.schedule
        if held is None or self._charges() is None:
            return sentence("room_schedule_unknown")
        return charging_text(charges=charges(held), windows=any(window.used for window in held.charge))
