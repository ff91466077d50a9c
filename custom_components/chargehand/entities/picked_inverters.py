"""The inverters that an automation has picked as the target of a trigger."""

from collections.abc import Iterator
from typing import Any

from homeassistant.config_entries import ConfigEntryState
from homeassistant.const import ATTR_DEVICE_ID, Platform
from homeassistant.core import Event, HomeAssistant
from homeassistant.helpers import entity_registry as er
from homeassistant.helpers.target import TargetSelection, async_extract_referenced_entity_ids

from ..coordinator import ChargehandCoordinator
from .targets import showing


class PickedInverters:
    """A target, by device or by entity. Its inverters are looked up each time: entries are reloaded."""

    def __init__(self, hass: HomeAssistant, target: dict[str, Any] | None) -> None:
        """Take a trigger's target."""
        self._hass = hass
        self._target = TargetSelection(target or {})

    def coordinator(self) -> ChargehandCoordinator | None:
        """Return the first of the inverters, if it is running."""
        for inverter in self._inverters():
            entry = self._hass.config_entries.async_get_entry(inverter.config_entry_id or "")
            if entry is not None and entry.state is ConfigEntryState.LOADED:
                coordinator: ChargehandCoordinator = entry.runtime_data
                return coordinator
        return None

    def concerns(self, event: Event[Any]) -> bool:
        """Return whether an event that names a device is about one of the inverters."""
        return event.data[ATTR_DEVICE_ID] in {inverter.device_id for inverter in self._inverters()}

    def _inverters(self) -> Iterator[er.RegistryEntry]:
        """Return each inverter by its entity of what happens to the schedule."""
        picked = async_extract_referenced_entity_ids(self._hass, self._target)
        entities = picked.referenced | picked.indirectly_referenced
        registry = er.async_get(self._hass)
        for entity_id in showing(self._hass, Platform.EVENT, "schedule_event", entities):
            if (inverter := registry.async_get(entity_id)) is not None:
                yield inverter
