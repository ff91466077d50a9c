"""The action that charges for the coming night: sets the clock if need be, plans, applies, and goes on trying."""

import logging
from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any

import voluptuous as vol
from homeassistant.exceptions import HomeAssistantError
from homeassistant.helpers import config_validation as cv
from homeassistant.util import dt as dt_util

from ..const import CONF_SET_CLOCK_SECONDS
from ..coordinator import ChargehandCoordinator
from ..core.order import Order, OrderKind, next_shown
from ..house import PRICE_SENSOR, PricesUnreadable
from ..messages import planning_text
from ..nights import (
    BATTERY,
    FALLBACK_LEVEL,
    LEAST_LEFT,
    TARIFF,
    Tonight,
    cheap_hours,
    prices_at_hand,
    tariff_of,
    tonight_windows,
)
from .clock import set_clock
from .failures import check_permission, refused
from .numbers import number
from .order_giving import UNTIL, give_planned_order, until_of
from .plan_charge import PLAN_SCHEMA, apply_windows, calculate, kilowatts, lowest_stop_level, must_answer

_LOGGER = logging.getLogger(__name__)

CLOCK_OFF_S = 120
"""The clock is set when it is further off than this, where the options do not say how far it may be."""

WATTS, AMPERES = "w", "a"
PER_KILO = 1000
LEVEL = vol.All(number, vol.Range(0, 100))

TONIGHT_FIELDS = {
    vol.Optional("between"): vol.Schema({vol.Required("start"): cv.time, vol.Required("end"): cv.time}),
    vol.Optional("level"): LEVEL,
    vol.Optional("lowest_level", default=0): LEVEL,
    vol.Optional("fallback_level"): LEVEL,
    vol.Optional("limit"): vol.All(number, vol.Range(min=0, min_included=False)),
    vol.Optional("limit_unit", default=WATTS): vol.All(cv.string, vol.Lower, vol.In([WATTS, AMPERES])),
    vol.Optional("set_clock", default=True): cv.boolean,
    vol.Optional(UNTIL): until_of,
}
TONIGHT_SCHEMA = vol.Schema(TONIGHT_FIELDS)


async def charge_tonight(coordinator: ChargehandCoordinator, data: Mapping[str, Any], by: str) -> dict[str, Any]:
    """Give the order for tonight's charge, and return its first answer with what was planned. Raises the platform's errors."""
    check_permission(coordinator, by)
    points = coordinator.inverter.map.schedule
    if points is None or not points.charge:
        raise refused("no_schedule")
    start, end, ends = _hours(coordinator, data)
    until: datetime = data[UNTIL] if UNTIL in data else ends - LEAST_LEFT
    asked = {
        **{key: data[key] for key in data if key in TONIGHT_FIELDS and key not in {UNTIL, "between"}},
        # The night is this one, also when the order is taken up in another hour of it.
        "start": start,
        "end": end,
        "given": "between" in data,
    }
    order, answer = await give_planned_order(coordinator, OrderKind.CHARGE_TONIGHT, asked, until, by)
    return {**answer, UNTIL: order.until.isoformat()}


async def charge_tonight_now(coordinator: ChargehandCoordinator, order: Order) -> dict[str, Any]:
    """Make one attempt at an order for a night: clock, plan, schedule. Raises the platform's errors."""
    must_answer(coordinator)
    if order.asked["set_clock"]:
        await _set_clock(coordinator, order)
    made = await _windows(coordinator, order)
    order.calculated = made
    coordinator = coordinator.config_entry.runtime_data
    receipt = await apply_windows(coordinator, made["charge"], order.by, order)
    return {"outcome": receipt["outcome"], **made, "receipt": receipt}


def _hours(coordinator: ChargehandCoordinator, data: Mapping[str, Any]) -> tuple[str, str, datetime]:
    """Return start and end of the hours as the house's clock shows them, and their end as an aware moment. Raises ServiceValidationError."""
    zone = dt_util.get_default_time_zone()
    if "between" in data:
        start, end = data["between"]["start"], data["between"]["end"]
        ends = next_shown(end.replace(second=0), dt_util.utcnow() + LEAST_LEFT, zone)
        return f"{start:%H:%M}", f"{end:%H:%M}", ends
    options = coordinator.config_entry.options
    if TARIFF not in options:
        raise refused("tonight_no_hours")
    tariff = options[TARIFF]
    try:
        # Of a tariff without bands, an entity's prices say which hours are cheap; what cannot be read is left to the plan to tell.
        dated = (
            prices_at_hand(coordinator.hass, options, {})
            if tariff.get(PRICE_SENSOR) and not tariff.get("bands")
            else []
        )
    except PricesUnreadable:
        dated = []
    try:
        begins, ends = cheap_hours(tariff_of(tariff), dated, dt_util.now(zone))
    except ValueError as fault:
        raise refused("plan_rejected", reasons=planning_text(fault)) from fault
    return f"{begins:%H:%M}", f"{ends:%H:%M}", ends.astimezone(UTC)


async def _set_clock(coordinator: ChargehandCoordinator, order: Order) -> None:
    """Set a clock that is too far off, once an order. The windows run on it; one that does not take the time keeps nobody from charging."""
    offset = coordinator.data.clock_offset
    most = coordinator.config_entry.options.get(CONF_SET_CLOCK_SECONDS) or CLOCK_OFF_S
    if offset is None or abs(offset) <= most:
        return
    try:
        await set_clock(coordinator, order.by)
    except HomeAssistantError as fault:
        _LOGGER.warning("The clock of %s could not be set: %s", coordinator.config_entry.title, fault)
    order.asked["set_clock"] = False


async def _windows(coordinator: ChargehandCoordinator, order: Order) -> dict[str, Any]:
    """Return the plan, what the windows rest on, and the windows."""
    asked, battery = order.asked, coordinator.config_entry.options.get(BATTERY, {})
    tonight = Tonight(
        start=asked["start"],
        end=asked["end"],
        given=asked["given"],
        limit=_limit(asked, battery),
        level=asked.get("level"),
        lowest_level=asked["lowest_level"],
        fallback_level=asked.get("fallback_level", battery.get(FALLBACK_LEVEL)),
    )
    plan, why_no_plan, basis = None, None, "fixed"
    if tonight.level is None:
        plan, why_no_plan = await _plan(coordinator, asked, can_do_without=tonight.fallback_level is not None)
        basis = "fallback" if plan is None or plan["basis"]["fallback"] else "planned"
    charge = tonight_windows(
        tonight, plan if basis == "planned" else None, lowest_stop_level(coordinator.inverter.map.schedule)
    )
    return {"plan": plan, "why_no_plan": why_no_plan, "basis": basis, "charge": charge}


async def _plan(
    coordinator: ChargehandCoordinator, asked: Mapping[str, Any], *, can_do_without: bool
) -> tuple[dict[str, Any] | None, str | None]:
    """Return a plan, or None and why there is none. Raises ServiceValidationError where a night cannot do without."""
    try:
        return (await calculate(coordinator, PLAN_SCHEMA({}), _most_kw(coordinator, asked)))[1], None
    except HomeAssistantError as fault:
        if not can_do_without or fault.translation_key == "not_running":
            raise
        return None, str(fault)


def _limit(asked: Mapping[str, Any], battery: Mapping[str, Any]) -> dict[str, float]:
    """Return the limit of a window that no plan made: the one given, else the battery's; without either, what the inverter holds."""
    if "limit" in asked:
        return {"power" if asked["limit_unit"] == WATTS else "current": asked["limit"]}
    return {"power": float(battery["charge_kw"]) * PER_KILO} if "charge_kw" in battery else {}


def _most_kw(coordinator: ChargehandCoordinator, asked: Mapping[str, Any]) -> float | None:
    """Return the limit that was given, in kW, for a plan to keep to; a current by the battery's voltage of now."""
    if "limit" not in asked:
        return None
    limit: float = asked["limit"]
    if asked["limit_unit"] == WATTS:
        return limit / PER_KILO
    return kilowatts(limit, coordinator.data.values.get("battery_voltage"))
