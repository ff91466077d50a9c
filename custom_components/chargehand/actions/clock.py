"""Setting the inverter's clock: asked for by the button or the action, or by an order whose windows run on it."""

import logging
from collections.abc import Mapping
from typing import Any

from homeassistant.exceptions import HomeAssistantError

from ..changes import shielded
from ..const import CONF_SET_CLOCK_SECONDS
from ..coordinator import ChargehandCoordinator
from ..core.order import Order
from .failures import control_not_allowed, translated

_LOGGER = logging.getLogger(__name__)

CLOCK_OFF_S = 120
"""The clock is set when it is further off than this, where the options do not say how far it may be."""


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


async def set_order_clock(coordinator: ChargehandCoordinator, order: Order) -> None:
    """Set a clock that is too far off, once an order, where it is asked to (`set_clock`).

    A clock that does not take the time keeps nobody from charging.
    """
    offset = coordinator.data.clock_offset
    most = coordinator.config_entry.options.get(CONF_SET_CLOCK_SECONDS) or CLOCK_OFF_S
    if not order.asked["set_clock"] or offset is None or abs(offset) <= most:
        return
    try:
        await set_clock(coordinator, order.by)
    except HomeAssistantError as fault:
        _LOGGER.warning("The clock of %s could not be set: %s", coordinator.config_entry.title, fault)
    order.asked["set_clock"] = False
