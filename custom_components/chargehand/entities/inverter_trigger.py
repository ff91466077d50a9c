"""What all triggers for an inverter share: they say where there is nothing that could trigger."""

from homeassistant.core import HomeAssistant, callback
from homeassistant.helpers import device_registry as dr
from homeassistant.helpers.target import TargetSelection, async_extract_referenced_entity_ids
from homeassistant.helpers.trigger import Trigger, TriggerConfig

from ..const import CONF_REGISTER_MAP, DOMAIN
from ..core.registers import NO_MAP
from ..messages import NO_MAP_TRIGGER, raise_issue


class InverterTrigger(Trigger):
    """A trigger for the inverters that an automation picks."""

    def __init__(self, hass: HomeAssistant, config: TriggerConfig) -> None:
        """Report the inverters that have no register map yet: the automation would wait for ever, and nobody would know why."""
        super().__init__(hass, config)
        report_unmapped(hass, TargetSelection(config.target or {}))


@callback
def report_unmapped(hass: HomeAssistant, target: TargetSelection) -> None:
    """Create a repair issue for each inverter among the targets that has no register map yet."""
    devices = dr.async_get(hass)
    for device_id in async_extract_referenced_entity_ids(hass, target).referenced_devices:
        device = devices.async_get(device_id)
        entry_id = None if device is None else device.config_entry_id
        entry = None if entry_id is None else hass.config_entries.async_get_entry(entry_id)
        if entry is not None and entry.domain == DOMAIN and entry.data[CONF_REGISTER_MAP] == NO_MAP:
            raise_issue(hass, entry.entry_id, NO_MAP_TRIGGER, inverter=entry.title)
