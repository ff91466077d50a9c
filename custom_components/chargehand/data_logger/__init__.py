"""The maker's data logger: what the owner has settled for it, its port, and what it writes."""

from .data_logger import DataLogger
from .port_options import (
    CONF_FRESH_SECONDS,
    CONF_HOSTS,
    CONF_WRITES,
    DATA_LOGGER,
    DEFAULT_FRESH_SECONDS,
    LoggerWrites,
)

__all__ = [
    "CONF_FRESH_SECONDS",
    "CONF_HOSTS",
    "CONF_WRITES",
    "DATA_LOGGER",
    "DEFAULT_FRESH_SECONDS",
    "DataLogger",
    "LoggerWrites",
]
