"""The mistakes of a register map in words, and what is doubtful in one that can be used."""

from homeassistant.core import callback

from ..core.registers import MapInvalid, RegisterMap, listed_doubts
from .texts import text


@callback
def map_mistakes(fault: MapInvalid) -> tuple[str, ...]:
    """Return a line for each mistake that is listed, and one that says how many more there are."""
    return fault.listed(text)


@callback
def map_doubts(register_map: RegisterMap) -> tuple[str, ...]:
    """Return a line for each warning that is listed, and one that says how many more there are; nothing where there is none."""
    return listed_doubts(register_map.doubts, text)
