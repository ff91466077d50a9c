"""The form of the data logger's port, and the checks of what was entered."""

from collections.abc import Mapping
from typing import Any

import voluptuous as vol
from homeassistant.const import CONF_PORT
from homeassistant.core import HomeAssistant
from homeassistant.helpers import selector

from ..const import CONF_FRAMING, DOMAIN
from ..core.logger_port import host_address
from ..core.modbus import Framing
from ..data_logger import (
    CONF_FRESH_SECONDS,
    CONF_HOSTS,
    CONF_WRITES,
    DATA_LOGGER,
    DEFAULT_FRESH_SECONDS,
    LoggerWrites,
)
from .fields import box
from .plan_forms import FieldRejected

LOGGER_SCHEMA = vol.Schema(
    {
        vol.Optional(CONF_PORT): box(1, 65535),
        vol.Optional(CONF_HOSTS, default=list): selector.TextSelector(selector.TextSelectorConfig(multiple=True)),
        vol.Required(CONF_FRAMING, default=str(Framing.TCP)): selector.SelectSelector(
            selector.SelectSelectorConfig(
                options=[str(Framing.TCP), str(Framing.RTU_OVER_TCP)], translation_key="logger_framing"
            )
        ),
        vol.Required(CONF_WRITES, default=str(LoggerWrites.THROUGH)): selector.SelectSelector(
            selector.SelectSelectorConfig(options=list(map(str, LoggerWrites)), translation_key="logger_writes")
        ),
        vol.Required(CONF_FRESH_SECONDS, default=DEFAULT_FRESH_SECONDS): box(0, 60, "s"),
    }
)


def checked_logger(entry_id: str, hass: HomeAssistant, options: Mapping[str, Any]) -> None:
    """Raise FieldRejected for a port that is no whole number or another inverter's, for no address, and for what is none."""
    if not options.get(CONF_PORT):
        return
    if options[CONF_PORT] % 1:
        raise FieldRejected(CONF_PORT, "not_whole", "")
    for other in hass.config_entries.async_entries(DOMAIN):
        if other.entry_id != entry_id and other.options.get(DATA_LOGGER, {}).get(CONF_PORT) == options[CONF_PORT]:
            raise FieldRejected(CONF_PORT, "port_taken", other.title)
    if not options[CONF_HOSTS]:
        raise FieldRejected(CONF_HOSTS, "no_hosts", "")
    for host in options[CONF_HOSTS]:
        try:
            host_address(host)
        except ValueError as fault:
            raise FieldRejected(CONF_HOSTS, "no_address", host) from fault
