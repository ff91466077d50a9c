"""Why something cannot be done, or was not done, as texts of the translations."""

from collections.abc import Callable, Mapping

from homeassistant.const import UnitOfTemperature
from homeassistant.core import async_get_hass, callback
from homeassistant.util.unit_conversion import TemperatureConverter

from ..core.modbus import Line, LineError
from ..core.reasons import Reason
from ..core.schedule import Why
from .house_time import time_shown
from .line_faults import line_fault_text
from .schedule_text import use_text
from .setting_names import name_text, setting_text
from .texts import text


@callback
def reason_text(reason: Reason) -> str:
    """Return a reason in words."""
    values = {name: SHOWN[name](value) if name in SHOWN else value for name, value in reason.values.items()}
    return text(f"reason_{reason.key}", **values)


@callback
def why_text(line: Line, why: Why) -> str:
    """Return in words why a change on a line did not take."""
    return line_fault_text(line, why) if isinstance(why, LineError) else reason_text(why)


def _times(times: str) -> str:
    return "–".join(map(time_shown, times.split("–")))


def _temperature(celsius: str) -> str:
    unit = async_get_hass().config.units.temperature_unit
    return f"{TemperatureConverter.convert(float(celsius), UnitOfTemperature.CELSIUS, unit):.3g} {unit}"


SHOWN: Mapping[str, Callable[[str], str]] = {
    "what": name_text,
    "first": name_text,
    "second": name_text,
    "limit": setting_text,
    "side": lambda side: text(f"side_{side}"),
    "time": time_shown,
    "first_times": _times,
    "second_times": _times,
    "use": use_text,
    "temperature": _temperature,
    "coldest": _temperature,
    "hottest": _temperature,
}
"""How values of reasons are shown to people, by their names; all others as they are."""
