"""The websocket command that pushes an inverter's day: all sections at first, then those that have changed."""

from functools import partial
from typing import Any

import voluptuous as vol
from homeassistant.components import websocket_api
from homeassistant.const import ATTR_DEVICE_ID
from homeassistant.core import HomeAssistant
from homeassistant.exceptions import HomeAssistantError

from ..actions import entry_of, may_control
from ..const import DOMAIN
from .live_day import live_day
from .websocket_errors import send_fault


@websocket_api.websocket_command({vol.Required("type"): f"{DOMAIN}/day/subscribe", vol.Required(ATTR_DEVICE_ID): str})
@websocket_api.async_response
async def subscribe(hass: HomeAssistant, connection: websocket_api.ActiveConnection, message: dict[str, Any]) -> None:
    """Push the day of an inverter, also of one that does not run, until the connection or the subscription ends."""
    device_id, number = message[ATTR_DEVICE_ID], message["id"]
    try:
        entry = entry_of(hass, device_id)
    except HomeAssistantError as fault:
        send_fault(connection, number, fault)
        return

    def send(sections: dict[str, Any]) -> None:
        if "inverter" in sections:
            permitted = may_control(hass, connection.user, entry.entry_id)
            sections = sections | {"inverter": sections["inverter"] | {"permitted": permitted}}
        connection.send_message(websocket_api.event_message(number, sections))

    day = live_day(hass, device_id, entry)
    watcher = day.join(send)
    connection.subscriptions[number] = partial(day.leave, watcher)
    try:
        await day.prepare()
    except Exception:
        # The card asks again after an error; after a result it would wait for a first answer that never comes.
        if leave := connection.subscriptions.pop(number, None):
            leave()
        raise
    connection.send_result(number)
    day.welcome(watcher)
