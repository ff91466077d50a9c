"""What is wrong with what was filled in on a form, as the form shows it."""

from collections.abc import Mapping
from dataclasses import dataclass, field

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
"""The fields that errors belong to; all of the first form."""


@dataclass(frozen=True, kw_only=True, slots=True)
class FormFault:
    """The errors of a form by their fields, what their texts name, and lines that are shown as a list."""

    errors: Mapping[str, str] = field(default_factory=dict)
    detail: str = ""
    lines: tuple[str, ...] = ()

    @property
    def of_first_form(self) -> bool:
        """Whether it can only be mended on the first form."""
        return bool(self.errors) and "base" not in self.errors


NO_FAULT = FormFault()


def probe_fault(fault: NotFound, framing: str) -> FormFault:
    """Return what a connection that was tried has come to."""
    key = ON_SERIAL.get(fault.key, fault.key) if framing == Framing.SERIAL else fault.key
    return FormFault(errors={FIELDS.get(key, "base"): key}, detail=fault.detail, lines=fault.lines)
