"""Setting the inverter's clock, asked for by the button or the action."""

from ..changes import shielded
from ..coordinator import ChargehandCoordinator
from .failures import control_not_allowed, translated


async def set_clock(coordinator: ChargehandCoordinator, by: str) -> tuple[float, float]:
    """Set the clock; answers with the offset before and after in seconds. Raises the platform's errors."""
    if not coordinator.allow_control:
        raise control_not_allowed()
    with translated(coordinator, "clock"):
        before, after = await shielded(coordinator.hass, coordinator.inverter.set_clock())
    coordinator.take_clock(before, after, by)
    return before, after
