"""What can go wrong on the line, as texts of the translations: a row for each kind that a user can act on."""

from collections.abc import Mapping

from homeassistant.core import HomeAssistant, callback
from homeassistant.helpers.translation import async_get_translations

from ..const import DOMAIN
from ..core.inverter import PointsRefused, ScaleMoved
from ..core.modbus import REASONS, Line, LineError, Lost, Missing, NoAnswer, NoConnection, Refused
from .texts import text

LOST = {Lost.CANNOT_CONNECT: "line_no_connection", Lost.DROPPED: "line_dropped"}
NO_ANSWER = {
    Missing.SILENT: "line_no_answer",
    Missing.LATE: "line_late_answer",
    Missing.OTHER: "line_other_answer",
    Missing.NOISE: "line_noise",
}
SCALE_MOVED = "line_scale_moved"
POINTS_REFUSED = "line_points_refused"
REFUSED = {code: f"line_refused_{code:02x}" for code in REASONS}
REFUSED_OTHERWISE = "line_refused"


def line_fault(line: Line, fault: LineError) -> tuple[str, Mapping[str, str]]:
    """Return the key of what went wrong on a line, and what goes into its text."""
    if isinstance(fault, ScaleMoved):
        return SCALE_MOVED, {}
    if isinstance(fault, PointsRefused):
        return POINTS_REFUSED, {"code": f"{fault.code:02X}", "registers": fault.registers}
    if isinstance(fault, Refused):
        return REFUSED.get(fault.code, REFUSED_OTHERWISE), {"code": f"{fault.code:02X}"}
    place = {"gateway": str(line.gateway.endpoint)}
    if isinstance(fault, NoConnection):
        return LOST[fault.lost], place
    missing = fault.missing if isinstance(fault, NoAnswer) else Missing.SILENT
    return NO_ANSWER[missing], {**place, "unit": str(line.unit)}


@callback
def line_fault_text(line: Line, fault: LineError) -> str:
    """Return what went wrong on a line, in words."""
    key, values = line_fault(line, fault)
    return text(key, **values)


async def load_line_fault_text(hass: HomeAssistant, line: Line, fault: LineError) -> str:
    """Return the same in the house's language, also before any inverter was added: the platform has no text at hand then."""
    key, values = line_fault(line, fault)
    texts = await async_get_translations(hass, hass.config.language, "exceptions", {DOMAIN})
    return texts[f"component.{DOMAIN}.exceptions.{key}.message"].format(**values)
