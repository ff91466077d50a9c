"""Identifiers of an inverter's device and entities: they depend only on the entry's id, not on what is read later."""

from collections.abc import Mapping

from ..const import DOMAIN
from ..core.registers import Value


def device_identifier(entry_id: str) -> tuple[str, str]:
    """Return the device registry's identifier for an entry's device."""
    return DOMAIN, entry_id


def entity_unique_id(entry_id: str, key: str) -> str:
    """Return the unique id of the entity that shows `key`."""
    return f"{entry_id}_{key}"


def serial_of(identity: Mapping[str, Value | None]) -> str | None:
    """Return the inverter's serial number, or None if its map or the inverter has none."""
    serial = identity.get("serial_number")
    return None if serial is None else str(serial)
