"""What an inverter, its device and its entities are known by: the entry's id, whatever is learnt of the inverter later."""

from collections.abc import Mapping

from ..const import DOMAIN
from ..core.registers import Value


def device_identifier(entry_id: str) -> tuple[str, str]:
    """Return what the registry knows an entry's device by."""
    return DOMAIN, entry_id


def entity_unique_id(entry_id: str, key: str) -> str:
    """Return what the registry knows the entity by that shows `key`."""
    return f"{entry_id}_{key}"


def serial_of(identity: Mapping[str, Value | None]) -> str | None:
    """Return the serial number that an inverter tells; None where its map names none, or it has none."""
    serial = identity.get("serial_number")
    return None if serial is None else str(serial)
