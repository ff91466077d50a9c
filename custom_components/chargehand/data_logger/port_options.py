"""The option *Data logger* of an entry, and the rules that it makes."""

from collections.abc import Mapping
from enum import StrEnum
from typing import Any

from homeassistant.const import CONF_PORT

from ..const import CONF_FAST_SECONDS, CONF_FRAMING, DEFAULT_FAST_SECONDS
from ..core.logger_port import PortRules, host_address
from ..core.modbus import Framing

DATA_LOGGER = "data_logger"
CONF_HOSTS = "hosts"
CONF_WRITES = "writes"
CONF_FRESH_SECONDS = "fresh_seconds"

DEFAULT_FRESH_SECONDS = 2


class LoggerWrites(StrEnum):
    """What becomes of the data logger's writes."""

    THROUGH = "pass"
    REFUSE = "refuse"


def port_rules(options: Mapping[str, Any]) -> PortRules | None:
    """Return the rules of an entry's options; None where the data logger is not served. Raises ValueError for what is no address."""
    settled = options.get(DATA_LOGGER, {})
    if not settled.get(CONF_PORT):
        return None
    return PortRules(
        port=int(settled[CONF_PORT]),
        hosts=frozenset(host_address(host) for host in settled[CONF_HOSTS]),
        framing=Framing(settled[CONF_FRAMING]),
        refuses_writes=settled[CONF_WRITES] == LoggerWrites.REFUSE,
        fresh_seconds=float(settled[CONF_FRESH_SECONDS]),
        poll_seconds=float(options.get(CONF_FAST_SECONDS, DEFAULT_FAST_SECONDS)),
    )
