"""Why no plan can be made, as texts of the translations where a user can mend it."""

from homeassistant.core import callback
from homeassistant.helpers.translation import async_get_exception_message

from ..const import DOMAIN
from ..core.planning import PlanningFault


@callback
def planning_text(fault: ValueError) -> str:
    """Return a fault in words; one that has no key is no user's, and its own text has to do."""
    if isinstance(fault, PlanningFault) and fault.key is not None:
        return async_get_exception_message(DOMAIN, f"plan_fault_{fault.key}", fault.values)
    return str(fault)
