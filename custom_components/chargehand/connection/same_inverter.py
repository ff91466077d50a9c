"""Finding the entry that an inverter already has: with two entries, both would write its schedule."""

from collections.abc import Mapping
from typing import Any

from homeassistant.config_entries import ConfigEntry
from homeassistant.core import HomeAssistant

from ..const import CONF_UNIT, DOMAIN
from ..core.registers import MapInvalid
from .open_inverter import endpoint_of, map_of


async def entry_of(
    hass: HomeAssistant, data: Mapping[str, Any], unit: int, serial: str | None, *, besides: str | None = None
) -> ConfigEntry | None:
    """Return the entry of an inverter: one with its serial number, or one with its gateway and unit and no other serial number.

    `data` are those of a new entry for the inverter. `besides` is the id of an entry to ignore.
    """
    place = str(endpoint_of(data)), unit
    for entry in hass.config_entries.async_entries(DOMAIN, include_ignore=False):
        if entry.entry_id == besides:
            continue
        if serial is not None and entry.unique_id is not None:
            if entry.unique_id == serial:
                return entry
        elif (str(endpoint_of(entry.data)), await _unit(hass, entry)) == place:
            return entry
    return None


async def _unit(hass: HomeAssistant, entry: ConfigEntry) -> int | None:
    """Return an entry's unit address: its own, else that of its map; None if the map can no longer be read."""
    if (unit := entry.data.get(CONF_UNIT)) is not None:
        return int(unit)
    try:
        register_map = await hass.async_add_executor_job(map_of, hass, entry.data)
    except MapInvalid:
        return None
    return register_map.line.unit
