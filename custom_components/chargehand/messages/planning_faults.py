"""Why no plan can be made, as texts of the translations."""

import logging
import re

from homeassistant.core import callback

from ..core.planning import PlanningFault
from .house_time import time_shown
from .texts import text

_LOGGER = logging.getLogger(__name__)

_TIME_OF_DAY = re.compile(r"\d\d:\d\d")


@callback
def planning_text(fault: ValueError) -> str:
    """Return a fault in words. One that has no key is no user's: its own text is for the log."""
    if isinstance(fault, PlanningFault) and fault.key is not None:
        values = {name: time_shown(one) if _TIME_OF_DAY.fullmatch(one) else one for name, one in fault.values.items()}
        return text(f"plan_fault_{fault.key}", **values)
    _LOGGER.error("No plan can be made: %s", fault)
    return text("plan_fault_other")
