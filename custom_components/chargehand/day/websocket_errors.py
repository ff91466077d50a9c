"""Errors as websocket commands answer them."""

from homeassistant.components import websocket_api
from homeassistant.core import callback
from homeassistant.exceptions import HomeAssistantError


@callback
def send_fault(connection: websocket_api.ActiveConnection, number: int, fault: HomeAssistantError) -> None:
    """Answer the command of this number with an error, as text and as its translation's key."""
    connection.send_error(
        number,
        websocket_api.const.ERR_HOME_ASSISTANT_ERROR,
        str(fault),
        translation_key=fault.translation_key,
        translation_domain=fault.translation_domain,
        translation_placeholders=fault.translation_placeholders,
    )
