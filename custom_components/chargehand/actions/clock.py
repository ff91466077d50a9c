"""Setting the inverter's clock, asked for by the button or the action."""

from collections.abc import Mapping
from typing import Any

from ..changes import shielded
from ..coordinator import ChargehandCoordinator
from .failures import control_not_allowed, translated


async def set_clock(coordinator: ChargehandCoordinator, by: str) -> tuple[float, float]:
    """Set the clock and return the offset before and after in seconds. Raises the platform's errors."""
    if not coordinator.allow_control:
        raise control_not_allowed()
    with translated(coordinator, "clock"):
        before, after = await shielded(coordinator.hass, coordinator.inverter.set_clock())
    coordinator.take_clock(before, after, by)
    return before, after


async def answer_set_clock(coordinator: ChargehandCoordinator, _data: Mapping[str, Any], by: str) -> dict[str, Any]:
    """Set the clock, and return its offset before and after as the action answers. Raises the platform's errors."""
    before, after = await set_clock(coordinator, by)
    return {"offset_before": round(before, 1), "offset_after": round(after, 1)}
