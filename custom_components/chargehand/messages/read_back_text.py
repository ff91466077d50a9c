"""What was read back from the inverter after a charge was set, and where it differs from what was requested."""

from collections.abc import Mapping, Sequence
from typing import Any

from homeassistant.core import callback

from .adjusted_text import adjusted_text
from .house_time import time_shown
from .texts import sentence, text


@callback
def read_back_text(charge: Sequence[Mapping[str, Any]], adjusted: Sequence[Mapping[str, str]]) -> str:
    """Return the charge windows, as `apply_schedule` takes them, and the adjustments of a receipt."""
    windows = ", ".join(_window(window) for window in charge)
    sentences = [sentence("read_back", windows=windows) if windows else sentence("read_back_never")]
    return " ".join(sentences + [adjusted_text(one) for one in adjusted])


def _window(window: Mapping[str, Any]) -> str:
    key = "window_level" if "stop_level" in window else "window"
    level = f"{window.get('stop_level', 0):g}"
    return text(key, start=time_shown(window["start"]), end=time_shown(window["end"]), level=level)
