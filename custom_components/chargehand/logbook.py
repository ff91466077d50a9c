"""The logbook: one row for each thing that has happened to the schedule or the clock, in words and with the inverter's name.

Rows of entities whose states have changed with it are the platform's own; it has no way to leave them out.
"""

from collections.abc import Callable

from homeassistant.components.logbook import LOGBOOK_ENTRY_ENTITY_ID, LOGBOOK_ENTRY_MESSAGE, LOGBOOK_ENTRY_NAME
from homeassistant.core import Event, HomeAssistant, callback

from .const import DOMAIN, EVENT_CLOCK, EVENT_SCHEDULE


@callback
def async_describe_events(
    hass: HomeAssistant, async_describe_event: Callable[[str, str, Callable[[Event], dict[str, str]]], None]
) -> None:
    """Describe Chargehand's own events."""

    @callback
    def describe(event: Event) -> dict[str, str]:
        return {
            LOGBOOK_ENTRY_NAME: event.data["inverter"],
            LOGBOOK_ENTRY_MESSAGE: event.data["message"],
            LOGBOOK_ENTRY_ENTITY_ID: event.data["entity_id"],
        }

    for kind in (EVENT_SCHEDULE, EVENT_CLOCK):
        async_describe_event(DOMAIN, kind, describe)
