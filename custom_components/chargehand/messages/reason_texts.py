"""Why something cannot be done, or was not done, as texts of the translations."""

from homeassistant.core import callback
from homeassistant.helpers.translation import async_get_exception_message

from ..const import DOMAIN
from ..core.modbus import Line, LineError
from ..core.reasons import Reason
from ..core.schedule import Why
from .line_faults import line_fault_text


@callback
def reason_text(reason: Reason) -> str:
    """Return a reason in words."""
    return async_get_exception_message(DOMAIN, f"reason_{reason.key}", dict(reason.values))


@callback
def why_text(line: Line, why: Why) -> str:
    """Return in words why a change on a line did not take."""
    return line_fault_text(line, why) if isinstance(why, LineError) else reason_text(why)
