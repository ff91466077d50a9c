"""Why a schedule cannot be on an inverter, as data: the words, and the window that it is about."""

import re
from typing import Any

from ..core.reasons import Reason
from ..messages import reason_text

_WINDOW = re.compile(r"(charge|discharge)_window_(\d+)(?:_\w+)?")


def reason_data(reason: Reason) -> dict[str, Any]:
    """Return a reason's text, key and values, and `side` and `number` of its window where it is about one."""
    return {"key": reason.key, **reason.values, **_place(reason), "text": reason_text(reason)}


def _place(reason: Reason) -> dict[str, Any]:
    found = _WINDOW.fullmatch(reason.values.get("what", ""))
    return {} if found is None else {"side": found[1], "number": int(found[2])}
