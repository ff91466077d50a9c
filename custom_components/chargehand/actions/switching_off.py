"""Switching the charge off: disarmed, or without charge windows where the inverter cannot disarm."""

from typing import Any

from ..coordinator import ChargehandCoordinator
from ..core.order import Order
from ..core.schedule import ScheduleRequest, can_disarm
from .answers import receipt_data
from .failures import committing, refused


async def switch_off(coordinator: ChargehandCoordinator, by: str, order: Order) -> dict[str, Any]:
    """Switch the charge off and return the receipt; nothing is written where no charge window acts. Raises the platform's errors."""
    points = coordinator.inverter.map.schedule
    if points is None:
        raise refused("no_schedule")
    with committing(coordinator, by):
        held = await coordinator.inverter.read_schedule()
        if held.armed is False or not any(window.used for window in held.charge):
            return {"outcome": "unchanged", "changes": [], "adjusted": []}
        request = ScheduleRequest(armed=False) if can_disarm(points) else ScheduleRequest(charge=[])
        return receipt_data(await coordinator.commits.apply(request, by, order))
