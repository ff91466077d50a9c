"""Which window a reason is about."""

import re

from ..reasons import Reason
from .draft import Place
from .windows import Side

_WINDOW = re.compile(r"(charge|discharge)_window_([0-9]+)(_[a-z_]+)?")
"""The key of a window, or of one of its settings."""


def place_of(reason: Reason) -> Place | None:
    """Return side and number of the window that a reason is about; None where it is about none."""
    found = _WINDOW.fullmatch(reason.about or reason.values.get("what", ""))
    return None if found is None else (Side(found[1]), int(found[2]))
