"""An adjustment of a receipt, as users read it."""

from collections.abc import Mapping

from homeassistant.core import callback

from .setting_names import name_text
from .texts import sentence, text


@callback
def adjusted_text(one: Mapping[str, str]) -> str:
    """Return an adjustment: `charge window 1 power: 3000 W was requested, 2339 W was set (rounded).` and the like."""
    return sentence(
        "adjusted",
        what=name_text(one["what"]),
        requested=one["requested"],
        applied=one["applied"],
        why=text(f"adjusted_{one['why']}"),
    )
