"""The mistakes of a register map in words."""

from homeassistant.core import callback

from ..core.registers import MapInvalid
from .texts import text


@callback
def map_mistakes(fault: MapInvalid) -> tuple[str, ...]:
    """Return a line for each mistake that is listed, and one that says how many more there are."""
    return fault.listed(text)
