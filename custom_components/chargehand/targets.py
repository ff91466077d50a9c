"""Which of an automation's targets show one thing of an inverter: the device is picked, its right entity is found."""

from collections.abc import Iterable

from homeassistant.core import HomeAssistant, callback
from homeassistant.helpers import entity_registry as er

from .const import DOMAIN


@callback
def showing(hass: HomeAssistant, platform: str, key: str, entities: Iterable[str]) -> set[str]:
    """Those of `entities` that are Chargehand's and show `key` on `platform`, whatever they were renamed to."""
    registry = er.async_get(hass)
    return {entity_id for entity_id in entities if _shows(hass, registry.async_get(entity_id), platform, key)}


def _shows(hass: HomeAssistant, entity: er.RegistryEntry | None, platform: str, key: str) -> bool:
    if entity is None or entity.platform != DOMAIN or entity.domain != platform or entity.config_entry_id is None:
        return False
    entry = hass.config_entries.async_get_entry(entity.config_entry_id)
    return entry is not None and entity.unique_id == f"{entry.unique_id}_{key}"
