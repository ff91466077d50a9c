"""From the device that a request names to its inverter."""

from homeassistant.config_entries import ConfigEntryState
from homeassistant.core import HomeAssistant, callback
from homeassistant.helpers import device_registry as dr

from ..const import CONF_REGISTER_MAP, DOMAIN
from ..coordinator import ChargehandConfigEntry, ChargehandCoordinator
from ..core.registers import NO_MAP, SchedulePoints
from .failures import refused


@callback
def entry_of(hass: HomeAssistant, device_id: str) -> ChargehandConfigEntry:
    """Return the entry of an inverter by its device. Raises ServiceValidationError when it is none of ours."""
    device = dr.async_get(hass).async_get(device_id)
    entry: ChargehandConfigEntry | None = (
        None
        if device is None or device.config_entry_id is None
        else hass.config_entries.async_get_entry(device.config_entry_id)
    )
    if entry is None or entry.domain != DOMAIN:
        raise refused("unknown_device", device=device_id)
    return entry


@callback
def running(hass: HomeAssistant, device_id: str) -> ChargehandCoordinator:
    """Return the coordinator of an inverter by its device. Raises ServiceValidationError when it does not run."""
    entry = entry_of(hass, device_id)
    if entry.state is not ConfigEntryState.LOADED:
        raise refused("not_running", inverter=entry.title)
    require_map(entry)
    return entry.runtime_data


@callback
def require_map(entry: ChargehandConfigEntry) -> None:
    """Raise ServiceValidationError for an inverter that has no register map yet."""
    if entry.data[CONF_REGISTER_MAP] == NO_MAP:
        raise refused("no_map", inverter=entry.title)


@callback
def charge_points(coordinator: ChargehandCoordinator) -> SchedulePoints:
    """Return the map's schedule, which has charge windows. Raises ServiceValidationError where there are none."""
    points = coordinator.inverter.points
    if points is None or not points.charge:
        raise refused("no_schedule")
    return points
