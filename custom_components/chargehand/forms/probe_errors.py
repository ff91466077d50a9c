"""What goes wrong while an inverter is looked for, as errors of a form."""

from homeassistant.const import CONF_HOST, CONF_PORT

from ..connection import NotFound
from ..const import CONF_FRAMING, CONF_REGISTER_MAP
from ..core.modbus import Framing

ON_SERIAL = {"cannot_connect": "cannot_open", "connection_refused_busy": "cannot_open", "no_answer": "no_answer_serial"}
"""What some errors are called where there is no gateway."""

FIELDS = {
    "map_invalid": CONF_REGISTER_MAP,
    "wrong_framing": CONF_FRAMING,
    "host_unknown": CONF_HOST,
    "port_closed": CONF_PORT,
}
"""The fields that errors belong to."""


def probe_errors(fault: NotFound, framing: str) -> dict[str, str]:
    """Return the errors of the form by their fields."""
    if framing == Framing.SERIAL:
        return {"base": ON_SERIAL.get(fault.key, fault.key)}
    return {FIELDS.get(fault.key, "base"): fault.key}
