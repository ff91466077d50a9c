"""The trigger that sees a schedule changed elsewhere through to its end: kept, put back, or reported."""

from contextlib import ExitStack
from datetime import datetime, timedelta
from enum import StrEnum
from typing import Any, override

import voluptuous as vol
from homeassistant.const import CONF_OPTIONS, CONF_TARGET
from homeassistant.core import CALLBACK_TYPE, Event, HomeAssistant, callback
from homeassistant.helpers import config_validation as cv
from homeassistant.helpers.event import async_track_time_interval
from homeassistant.helpers.trigger import TriggerActionRunner, TriggerConfig, TriggerNotTriggeredReporter
from homeassistant.helpers.typing import ConfigType
from homeassistant.util import dt as dt_util

from ..changes import Deadline, ScheduleStatus
from ..const import EVENT_ORDER, EVENT_SCHEDULE
from ..coordinator import ChargehandCoordinator
from ..core.foreign_change import ForeignChange, Step, mark
from ..core.order import OrderKind, OrderState
from ..core.schedule import changes
from ..messages import Message, foreign_change_text, late_text, text
from .inverter_trigger import InverterTrigger
from .picked_inverters import PickedInverters

CONF_THEN, CONF_WAIT, CONF_MOST = "then", "wait", "most"

EVENT_BUTTON = "mobile_app_notification_action"
"""Fired by notifiers when somebody presses a button of an actionable notification."""

BUTTONS = {Step.KEEP: "KEEP", Step.PUT_BACK: "BACK"}

OUTCOME = "outcome"
"""How an order to put the schedule back has ended."""

LOOK_EVERY = timedelta(minutes=5)
"""How often to look for a change that was found before the trigger listened. Notifiers need as long to start with the house."""


class Then(StrEnum):
    """What is to become of a change."""

    TELL = "tell"
    PUT_BACK = "put_back"


FOREIGN_CHANGE_SCHEMA = vol.Schema(
    {
        vol.Required(CONF_TARGET): cv.TARGET_FIELDS,
        vol.Required(CONF_OPTIONS, default={}): {
            vol.Optional(CONF_THEN, default=Then.TELL): vol.Coerce(Then),
            vol.Optional(CONF_WAIT, default=15): vol.All(vol.Coerce(float), vol.Range(min=0, max=1440)),
            vol.Optional(CONF_MOST, default=2): vol.All(vol.Coerce(int), vol.Range(min=1)),
        },
    }
)


class ForeignChangeTrigger(InverterTrigger):
    """Something is to be reported or done about a schedule that was changed elsewhere."""

    @classmethod
    @override
    async def async_validate_config(cls, hass: HomeAssistant, config: ConfigType) -> ConfigType:
        checked: ConfigType = FOREIGN_CHANGE_SCHEMA(config)
        return checked

    def __init__(self, hass: HomeAssistant, config: TriggerConfig) -> None:
        """Take the inverter, and what is to become of a change."""
        super().__init__(hass, config)
        options: dict[str, Any] = config.options or {}
        self._picked = PickedInverters(hass, config.target)
        self._puts_back = options[CONF_THEN] is Then.PUT_BACK
        self._most: int = options[CONF_MOST]
        wait = timedelta(minutes=options[CONF_WAIT]) if self._puts_back else None
        self._change = ForeignChange(wait=wait, most=self._most)

    @override
    async def async_attach_runner(
        self, run_action: TriggerActionRunner, did_not_trigger: TriggerNotTriggeredReporter | None = None
    ) -> CALLBACK_TYPE:
        leaving = ExitStack()

        def fire(coordinator: ChargehandCoordinator, kind: str, message: dict[str, Any] | None = None) -> None:
            payload = {"kind": kind, "tag": _tag(coordinator), "buttons": _buttons(coordinator), **(message or {})}
            run_action(payload, f"schedule changed elsewhere: {kind}")

        @callback
        def look(_: Event[Any] | datetime | None = None) -> None:
            if (coordinator := self._picked.coordinator()) is not None:
                step = self._change.see(_found(coordinator), _put_backs(coordinator), dt_util.utcnow())
                due.set(self._change.due)
                if step is not None:
                    fire(coordinator, step, self._told(coordinator) if step is Step.CHANGED else None)

        @callback
        def pressed(event: Event[Any]) -> None:
            if (coordinator := self._picked.coordinator()) is None:
                return
            for step, name in BUTTONS.items():
                button, _, number = str(event.data.get("action", "")).rpartition("_")
                if button == f"{_tag(coordinator)}_{name}" and number.isdecimal():
                    decided = self._change.decide(step, int(number), _found(coordinator))
                    due.set(self._change.due)
                    fire(coordinator, decided, _late(coordinator) if decided is Step.LATE else None)
                    return

        @callback
        def ended(event: Event[Any]) -> None:
            coordinator = self._picked.coordinator() if self._picked.concerns(event) else None
            if coordinator is None or event.data["what"] != OrderKind.RESTORE_SCHEDULE:
                return
            order = coordinator.orders.order
            if event.data["state"] != OrderState.WAITING and order is not None and order.asked.get("counts"):
                fire(coordinator, OUTCOME, {"title": event.data["title"], "message": event.data["message"]})

        due = Deadline(self._hass, look)
        leaving.callback(due.set, None)
        leaving.callback(self._hass.bus.async_listen(EVENT_SCHEDULE, look))
        leaving.callback(self._hass.bus.async_listen(EVENT_BUTTON, pressed))
        leaving.callback(self._hass.bus.async_listen(EVENT_ORDER, ended))
        leaving.callback(async_track_time_interval(self._hass, look, LOOK_EVERY))
        return leaving.close

    def _told(self, coordinator: ChargehandCoordinator) -> dict[str, Any]:
        """Return what was changed, in words, and what comes of it."""
        confirmed, image = coordinator.storage.confirmed, coordinator.monitor.elsewhere
        if confirmed is None or image is None:
            return {}
        was, held = coordinator.inverter.before_and_after(confirmed, image)
        too_often = self._puts_back and self._change.due is None
        return foreign_change_text(
            coordinator.config_entry.title,
            changes(was, held),
            held,
            due=self._change.due,
            put_backs=_put_backs(coordinator) if too_often else None,
        ).as_dict()


def _found(coordinator: ChargehandCoordinator) -> datetime | None:
    """Return when the change was found that stands; None: there is none."""
    state = coordinator.monitor.state
    return state.since if state.status is ScheduleStatus.CHANGED_ELSEWHERE else None


def _put_backs(coordinator: ChargehandCoordinator) -> int:
    return coordinator.storage.put_back_on(dt_util.now().date().isoformat())


def _late(coordinator: ChargehandCoordinator) -> dict[str, Any]:
    state = coordinator.monitor.state
    since = state.since if state.status is ScheduleStatus.CONFIRMED else None
    message: Message = late_text(coordinator.data.schedule, since)
    return message.as_dict()


def _tag(coordinator: ChargehandCoordinator) -> str:
    """Return what is the same for all messages about an inverter."""
    return f"CHARGEHAND_{coordinator.config_entry.entry_id}"


def _buttons(coordinator: ChargehandCoordinator) -> list[dict[str, str]]:
    """Return the buttons to decide by; none where there is nothing to decide."""
    if (found := _found(coordinator)) is None:
        return []
    return [
        {"action": f"{_tag(coordinator)}_{name}_{mark(found)}", "title": text(f"foreign_{step}")}
        for step, name in BUTTONS.items()
    ]
