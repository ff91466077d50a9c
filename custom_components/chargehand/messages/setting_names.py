"""Windows and their settings by name: what a key such as `charge_window_1_start` is to people."""

import re

from homeassistant.core import callback

from .texts import text

_KEY = re.compile(r"(charge|discharge)_window_(\d+)(?:_(start|end|current|power|stop_level|active|days|other_use))?")


@callback
def name_text(key: str) -> str:
    """Return the name of a window, of one of its settings, or of a setting alone: `charge window 1 start`."""
    found = _KEY.fullmatch(key)
    if found is None:
        return setting_text(key)
    side, number, setting = found.groups()
    window = text(f"{side}_window", number=number)
    return window if setting is None else text("window_setting", window=window, setting=setting_text(setting))


@callback
def setting_text(setting: str) -> str:
    """Return the name of a setting: `stop level`."""
    return text(f"setting_{setting}")
