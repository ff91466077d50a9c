"""The websocket command that rehearses a schedule: how the battery would go under it, and what that would cost. Nothing is written."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any
from weakref import WeakKeyDictionary

import voluptuous as vol
from homeassistant.components import websocket_api
from homeassistant.const import ATTR_DEVICE_ID
from homeassistant.core import HomeAssistant, callback
from homeassistant.exceptions import HomeAssistantError
from homeassistant.util import dt as dt_util
from homeassistant.util.hass_dict import HassKey

from ..const import DOMAIN
from ..coordinator import ChargehandCoordinator
from ..core.inverter import acting, level_of
from ..core.planning import Battery, Rehearsal, Rehearsed, RehearsedWindow
from ..core.schedule import Rejected, Schedule, ScheduleRequest, Side, Window, WindowRequest, check_thought
from ..messages import reason_text
from ..nights import rehearsal_of
from .entries import charge_points, running
from .failures import refused
from .plan_charge import PLAN_SCHEMA, kilowatts, plan_inputs, planning
from .schedule import WINDOWS_SCHEMA

COARSE, FINE = 15, 5
"""Minutes of a step: where all windows begin and end at quarters of an hour, and else."""

FRESH = timedelta(minutes=5)
"""How long what is known of house and prices serves for rehearsing."""

PER_KILO = 1000


@dataclass(frozen=True, kw_only=True, slots=True)
class _Prepared:
    """What schedules are rehearsed with. `rehearsal` is None where too little is known of what the house uses."""

    rehearsal: Rehearsal | None
    at: datetime
    level: float | None


type _Kept = WeakKeyDictionary[ChargehandCoordinator, dict[int, _Prepared]]
"""By inverter, as long as its entry is loaded, and by minutes of a step."""

KEPT: HassKey[_Kept] = HassKey(f"{DOMAIN}_rehearsals")


@callback
def async_setup_rehearsing(hass: HomeAssistant) -> None:
    """Offer the command."""
    websocket_api.async_register_command(hass, rehearse)


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
    """Return the expected course of a schedule, or every reason why this inverter cannot hold it.

    A side that is left out stays as the inverter holds it.
    """
    try:
        coordinator = running(hass, message[ATTR_DEVICE_ID])
        answer = await _rehearsed(coordinator, message)
    except HomeAssistantError as fault:
        connection.send_error(
            message["id"],
            websocket_api.const.ERR_HOME_ASSISTANT_ERROR,
            str(fault),
            translation_key=fault.translation_key,
            translation_domain=fault.translation_domain,
            translation_placeholders=fault.translation_placeholders,
        )
    else:
        connection.send_result(message["id"], answer)


async def _rehearsed(coordinator: ChargehandCoordinator, message: Mapping[str, Any]) -> dict[str, Any]:
    held, points = coordinator.data.schedule, charge_points(coordinator)
    if held is None:
        raise refused("not_understood")
    sides = {side: [WindowRequest(**window) for window in message[side]] if side in message else None for side in Side}
    volts = coordinator.data.values.get("battery_voltage")
    voltage = float(volts) if isinstance(volts, int | float) and volts > 0 else None
    request = ScheduleRequest(charge=sides[Side.CHARGE], discharge=sides[Side.DISCHARGE])
    try:
        schedule = check_thought(points, held, request, shift=coordinator.inverter.shift(), voltage=voltage).schedule
    except Rejected as fault:
        return {"reasons": [{"text": reason_text(one), "key": one.key, **one.values} for one in fault.reasons]}
    prepared = await _prepared(coordinator, _step_minutes(schedule))
    if prepared is None:
        return {"reasons": [], "course": None}
    windows = list(_windows(coordinator, schedule, prepared))
    # Some hundredths of a second for numbers: not on the event loop.
    rehearsed = await coordinator.hass.async_add_executor_job(prepared.under, windows)
    return {"reasons": [], "course": _course(prepared, rehearsed, coordinator.hass.config.currency)}


def _step_minutes(schedule: Schedule) -> int:
    edges = [edge for _, _, window in schedule.places() if window.used for edge in (window.start, window.end)]
    return FINE if any(edge % COARSE for edge in edges) else COARSE


async def _prepared(coordinator: ChargehandCoordinator, step_minutes: int) -> Rehearsal | None:
    """Return what a schedule is rehearsed with: made anew after a while, or once the level is another. Raises ServiceValidationError."""
    hass, now, level = coordinator.hass, dt_util.utcnow(), level_of(coordinator.data)
    kept = hass.data.setdefault(KEPT, WeakKeyDictionary()).setdefault(coordinator, {})
    there = kept.get(step_minutes)
    if there is not None and there.level == level and timedelta() <= now - there.at < FRESH:
        return there.rehearsal
    with planning():
        inputs = await plan_inputs(coordinator, PLAN_SCHEMA({}))
        rehearsal = await hass.async_add_executor_job(rehearsal_of, inputs, step_minutes)
    kept[step_minutes] = _Prepared(rehearsal=rehearsal, at=now, level=level)
    return rehearsal


def _windows(coordinator: ChargehandCoordinator, schedule: Schedule, rehearsal: Rehearsal) -> Iterator[RehearsedWindow]:
    """Yield every time that a window acts, by the inverter's clock, from now to the end of what can be rehearsed."""
    horizon, volts = rehearsal.horizon, coordinator.data.values.get("battery_voltage")
    snapshot = replace(coordinator.data, schedule=schedule)
    for side in Side:
        for one in acting(coordinator.inverter, snapshot, horizon.start, horizon.end, side):
            yield RehearsedWindow(
                start=one.start,
                end=one.end,
                power_kw=_power(one.window, side, rehearsal.battery, volts),
                stop_level=_stop_level(one.window, side, rehearsal.battery),
                discharges=side is Side.DISCHARGE,
            )


def _power(window: Window, side: Side, battery: Battery, volts: object) -> float:
    """Return the power of a window in kW; the battery's where it has no limit, or one that cannot be converted."""
    most = battery.charge_kw if side is Side.CHARGE else battery.discharge_kw
    limit = None if window.power is None else window.power / PER_KILO
    if limit is None and window.current is not None:
        limit = kilowatts(window.current, volts)
    return most if limit is None else min(limit, most)


def _stop_level(window: Window, side: Side, battery: Battery) -> float:
    if window.stop_level is not None:
        return window.stop_level
    return 100.0 if side is Side.CHARGE else battery.reserve_level


def _course(rehearsal: Rehearsal, rehearsed: Rehearsed, currency: str) -> dict[str, Any]:
    return {
        "start": rehearsal.horizon.start.isoformat(),
        "step_minutes": rehearsal.horizon.step_minutes,
        **{name: getattr(rehearsed, name).round(1).tolist() for name in ("level", "low", "high")},
        "cost": round(rehearsed.cost, 4),
        "cost_without": round(rehearsed.cost_without, 4),
        "saving": round(rehearsed.cost_without - rehearsed.cost, 4),
        "left_kwh": round(rehearsed.left_kwh, 3),
        "grid_charge_kwh": round(rehearsed.grid_charge_kwh, 3),
        "currency": currency,
    }
