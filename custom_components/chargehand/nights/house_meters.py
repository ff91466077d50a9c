"""The counters of what the house uses and of its solar energy: those of the options, the energy dashboard's, else the inverter's own."""

from datetime import datetime

from homeassistant.config_entries import ConfigEntry
from homeassistant.const import Platform
from homeassistant.core import HomeAssistant, callback
from homeassistant.helpers import entity_registry as er

from ..connection import entity_unique_id
from ..const import DOMAIN
from ..core.planning import Hour
from ..house import KnownFrom, known_load, known_solar
from .plan_options import BATTERY, LOAD_SENSOR, SOLAR_SENSOR

OWN = {LOAD_SENSOR: "load_energy", SOLAR_SENSOR: "solar_energy"}
"""The inverter's own counter that stands in for an option."""


async def load_hours(
    hass: HomeAssistant, entry: ConfigEntry, first: datetime | None = None
) -> tuple[list[Hour], KnownFrom]:
    """Return the energy that the house used in each hour, and from where it is known; as `known_load`."""
    named = entry.options.get(BATTERY, {}).get(LOAD_SENSOR)
    return await known_load(hass, named, own_counter(hass, entry, LOAD_SENSOR), first)


async def solar_hours(hass: HomeAssistant, entry: ConfigEntry, first: datetime | None = None) -> list[Hour] | None:
    """Return the solar energy of each hour; as `known_solar`."""
    named = entry.options.get(BATTERY, {}).get(SOLAR_SENSOR)
    return await known_solar(hass, named, own_counter(hass, entry, SOLAR_SENSOR), first)


@callback
def own_counter(hass: HomeAssistant, entry: ConfigEntry, option: str) -> str | None:
    """Return the inverter's own sensor for an option, or None if it has none that is enabled."""
    registry = er.async_get(hass)
    found = registry.async_get_entity_id(Platform.SENSOR, DOMAIN, entity_unique_id(entry.entry_id, OWN[option]))
    entity = None if found is None else registry.async_get(found)
    return None if entity is None or entity.disabled else entity.entity_id
