"""The websocket command that rehearses a schedule: how the battery would go under it, and what that would cost. Nothing is written."""

from collections.abc import Mapping
from typing import Any

import voluptuous as vol
from homeassistant.components import websocket_api
from homeassistant.const import ATTR_DEVICE_ID
from homeassistant.core import HomeAssistant
from homeassistant.exceptions import HomeAssistantError
from homeassistant.util import dt as dt_util

from ..actions import WINDOWS_SCHEMA, charge_points, reason_data, refused, running
from ..const import DOMAIN
from ..coordinator import ChargehandCoordinator
from ..core.schedule import Rejected, Schedule, ScheduleRequest, Side, WindowRequest, check_thought
from .band import band_at
from .day_facts import remembered
from .occurrences import occurrences
from .rehearsals import rehearsals_of
from .websocket_errors import send_fault


@websocket_api.websocket_command(
    {
        vol.Required("type"): f"{DOMAIN}/rehearse",
        vol.Required(ATTR_DEVICE_ID): str,
        vol.Optional("charge"): WINDOWS_SCHEMA,
        vol.Optional("discharge"): WINDOWS_SCHEMA,
    }
)
@websocket_api.async_response
async def rehearse(hass: HomeAssistant, connection: websocket_api.ActiveConnection, message: dict[str, Any]) -> None:
    """Return when a schedule's windows act and its expected course, or every reason why this inverter cannot hold it.

    A side that is left out stays as the inverter holds it.
    """
    try:
        answer = await _rehearsed(running(hass, message[ATTR_DEVICE_ID]), message)
    except HomeAssistantError as fault:
        send_fault(connection, message["id"], fault)
    else:
        connection.send_result(message["id"], answer)


async def _rehearsed(coordinator: ChargehandCoordinator, message: Mapping[str, Any]) -> dict[str, Any]:
    try:
        schedule = _asked(coordinator, message)
    except Rejected as fault:
        return {"reasons": [reason_data(one) for one in fault.reasons]}
    now = dt_util.utcnow()
    band = band_at(now, dt_util.get_default_time_zone())
    answer = {"reasons": [], "acting": occurrences(remembered(coordinator), schedule, band, now)}
    try:
        course = await rehearsals_of(coordinator).under(coordinator, schedule)
    except HomeAssistantError as fault:
        # Windows can be edited also in a house of which too little is known.
        return {**answer, "course": None, "why": str(fault)}
    return {**answer, "course": {**course.as_dict(), "currency": coordinator.hass.config.currency}}


def _asked(coordinator: ChargehandCoordinator, message: Mapping[str, Any]) -> Schedule:
    """Return the schedule that was asked for. Raises Rejected, and ServiceValidationError where none can be."""
    held, points = coordinator.data.schedule, charge_points(coordinator)
    if held is None:
        raise refused("not_understood")
    sides = {side: [WindowRequest(**window) for window in message[side]] if side in message else None for side in Side}
    volts = coordinator.data.values.get("battery_voltage")
    voltage = float(volts) if isinstance(volts, int | float) and volts > 0 else None
    request = ScheduleRequest(charge=sides[Side.CHARGE], discharge=sides[Side.DISCHARGE])
    return check_thought(points, held, request, shift=coordinator.inverter.shift(), voltage=voltage).schedule
