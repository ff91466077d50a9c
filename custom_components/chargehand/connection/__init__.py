"""Connecting to an inverter for a config entry, testing a connection first, and recognizing a known inverter."""

from .found import Found, NotFound, offset_text
from .gateway_users import look_for_users, users_text
from .identity import device_identifier, entity_unique_id, serial_of
from .line_causes import name_causes
from .missing_registers import MissingRegisters, missing_registers
from .open_inverter import (
    build_inverter,
    close_line,
    complete_map,
    endpoint_of,
    map_of,
    map_paths,
    open_line,
    own_maps,
    read_map,
)
from .probe import probe
from .same_inverter import entry_of

__all__ = [
    "Found",
    "MissingRegisters",
    "NotFound",
    "build_inverter",
    "close_line",
    "complete_map",
    "device_identifier",
    "endpoint_of",
    "entity_unique_id",
    "entry_of",
    "look_for_users",
    "map_of",
    "map_paths",
    "missing_registers",
    "name_causes",
    "offset_text",
    "open_line",
    "own_maps",
    "probe",
    "read_map",
    "serial_of",
    "users_text",
]
