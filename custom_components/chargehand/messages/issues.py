"""Repair issues: what stands until somebody has looked at it."""

from homeassistant.core import HomeAssistant, callback
from homeassistant.helpers import issue_registry as ir

from ..const import DOMAIN

UNCERTAIN = "schedule_uncertain"
CHANGED = "changed_elsewhere"
SUMMER_TIME = "summer_time"
WEAR = "many_commits"
GATEWAY_TAKEN = "gateway_taken"
GATEWAY_SHARED = "gateway_shared"
TWO_MASTERS = "two_masters"
REGISTERS_REFUSED = "registers_refused"
MAP_INVALID = "map_invalid"
NO_CHEAP_HOURS = "no_cheap_hours"
NO_MAP_TRIGGER = "no_map_trigger"
LOGGER_PORT = "logger_port_closed"
LOGGER_REFUSED = "logger_refused"

FIXABLE = {CHANGED, SUMMER_TIME}
OF_LINE = (GATEWAY_TAKEN, GATEWAY_SHARED, TWO_MASTERS, REGISTERS_REFUSED)
"""What only polls can take away again."""

KINDS = (
    UNCERTAIN,
    CHANGED,
    SUMMER_TIME,
    WEAR,
    *OF_LINE,
    MAP_INVALID,
    NO_CHEAP_HOURS,
    NO_MAP_TRIGGER,
    LOGGER_PORT,
    LOGGER_REFUSED,
)


@callback
def raise_issue(hass: HomeAssistant, entry_id: str, kind: str, **values: str) -> None:
    """Let an issue stand; one that stands already takes the new text."""
    ir.async_create_issue(
        hass,
        DOMAIN,
        f"{kind}_{entry_id}",
        is_fixable=kind in FIXABLE,
        is_persistent=kind in FIXABLE,
        severity=ir.IssueSeverity.ERROR if kind == UNCERTAIN else ir.IssueSeverity.WARNING,
        translation_key=kind,
        translation_placeholders=values,
        data={"entry_id": entry_id},
    )


@callback
def clear_issue(hass: HomeAssistant, entry_id: str, kind: str) -> None:
    """Take an issue away; nothing happens when it does not stand."""
    ir.async_delete_issue(hass, DOMAIN, f"{kind}_{entry_id}")
