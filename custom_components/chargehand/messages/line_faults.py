"""What can go wrong on the line, as texts of the translations: a row for each kind that a user can act on."""

from collections.abc import Mapping

from homeassistant.core import HomeAssistant, callback
from homeassistant.helpers.translation import async_get_exception_message, async_get_translations

from ..const import DOMAIN
from ..core.modbus import REASONS, Line, LineError, Lost, NoConnection, Refused

LOST = {Lost.CANNOT_CONNECT: "line_no_connection", Lost.DROPPED: "line_dropped"}
NO_ANSWER = "line_no_answer"
REFUSED = {code: f"line_refused_{code:02x}" for code in REASONS}
REFUSED_OTHERWISE = "line_refused"


def line_fault(line: Line, fault: LineError) -> tuple[str, Mapping[str, str]]:
    """The key of what went wrong on a line, and what goes into its text."""
    if isinstance(fault, Refused):
        return REFUSED.get(fault.code, REFUSED_OTHERWISE), {"code": f"{fault.code:02X}"}
    place = {"gateway": str(line.gateway.endpoint)}
    if isinstance(fault, NoConnection):
        return LOST[fault.lost], place
    return NO_ANSWER, {**place, "unit": str(line.unit)}


@callback
def line_fault_text(line: Line, fault: LineError) -> str:
    """What went wrong on a line, in words."""
    key, values = line_fault(line, fault)
    return async_get_exception_message(DOMAIN, key, dict(values))


async def line_fault_told(hass: HomeAssistant, line: Line, fault: LineError) -> str:
    """The same in the house's language, also before any inverter was added, when the platform has no text at hand."""
    key, values = line_fault(line, fault)
    texts = await async_get_translations(hass, hass.config.language, "exceptions", {DOMAIN})
    return texts[f"component.{DOMAIN}.exceptions.{key}.message"].format(**values)
