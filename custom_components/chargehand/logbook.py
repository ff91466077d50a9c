"""The logbook: what has happened to the schedule, in words."""

from collections.abc import Callable

from homeassistant.components.logbook import LOGBOOK_ENTRY_ENTITY_ID, LOGBOOK_ENTRY_MESSAGE, LOGBOOK_ENTRY_NAME
from homeassistant.core import Event, HomeAssistant, callback

from .const import DOMAIN, EVENT_SCHEDULE


@callback
def async_describe_events(
    hass: HomeAssistant, async_describe_event: Callable[[str, str, Callable[[Event], dict[str, str]]], None]
) -> None:
    """Describe Chargehand's own event."""

    @callback
    def describe(event: Event) -> dict[str, str]:
        return {
            LOGBOOK_ENTRY_NAME: event.data["inverter"],
            LOGBOOK_ENTRY_MESSAGE: event.data["message"],
            LOGBOOK_ENTRY_ENTITY_ID: event.data["entity_id"],
        }

    async_describe_event(DOMAIN, EVENT_SCHEDULE, describe)
