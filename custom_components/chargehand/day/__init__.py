"""What the day card shows of an inverter: one day in sections, pushed as they change, and schedules rehearsed. Nothing is written."""

from homeassistant.components import websocket_api
from homeassistant.core import HomeAssistant, callback

from .rehearsing import rehearse
from .subscribing import subscribe

__all__ = ["async_setup_day"]


@callback
def async_setup_day(hass: HomeAssistant) -> None:
    """Offer the websocket commands."""
    websocket_api.async_register_command(hass, rehearse)
    websocket_api.async_register_command(hass, subscribe)
