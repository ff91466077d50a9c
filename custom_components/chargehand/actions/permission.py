"""Who may have an inverter changed."""

from homeassistant.auth.models import User
from homeassistant.auth.permissions.const import POLICY_CONTROL
from homeassistant.core import HomeAssistant, callback
from homeassistant.helpers import entity_registry as er


@callback
def may_control(hass: HomeAssistant, user: User, entry_id: str) -> bool:
    """Return whether a user may control at least one of an inverter's entities: then its schedule too."""
    entities = er.async_entries_for_config_entry(er.async_get(hass), entry_id)
    return any(user.permissions.check_entity(entity.entity_id, POLICY_CONTROL) for entity in entities)
