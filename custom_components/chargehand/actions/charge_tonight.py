"""The action that charges for the coming night: sets the clock if need be, plans, applies, and goes on trying."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

import voluptuous as vol
from homeassistant.exceptions import HomeAssistantError
from homeassistant.helpers import config_validation as cv
from homeassistant.util import dt as dt_util

from ..coordinator import ChargehandCoordinator
from ..core.order import Order, OrderKind
from ..messages import planning_text
from ..nights import (
    BATTERY,
    FALLBACK_LEVEL,
    LEAST_LEFT,
    NoCheapHours,
    Tonight,
    TonightHours,
    Way,
    When,
    tonight_hours,
    tonight_windows,
)
from .answers import receipt_data
from .charge_limits import LIMIT_FIELDS, most_kw, window_limit
from .clock import set_order_clock
from .entries import charge_points
from .failures import check_permission, refused
from .numbers import number, or_empty
from .order_giving import UNTIL, give_planned_order, until_of
from .plan_charge import PLAN_SCHEMA, apply_windows, calculate, lowest_stop_level, must_answer
from .stop_charging import commit_stop

LEVEL = vol.All(number, vol.Range(0, 100))
BETWEEN_SCHEMA = vol.Schema({vol.Optional("start"): or_empty(cv.time), vol.Optional("end"): or_empty(cv.time)})

TONIGHT_FIELDS = {
    vol.Optional("between"): BETWEEN_SCHEMA,
    vol.Optional("when", default=When.MONTHS): vol.Coerce(When),
    vol.Optional("months", default=list(range(1, 13))): vol.All(
        cv.ensure_list, [vol.All(vol.Coerce(int), vol.Range(1, 12))]
    ),
    vol.Optional("way"): vol.Coerce(Way),
    vol.Optional("level"): LEVEL,
    vol.Optional("lowest_level", default=0): LEVEL,
    vol.Optional("fallback_level"): or_empty(LEVEL),
    **LIMIT_FIELDS,
    vol.Optional("set_clock", default=True): cv.boolean,
    vol.Optional("report_failure", default=False): cv.boolean,
    vol.Optional(UNTIL): until_of,
}

KEPT = {"when", "level", "lowest_level", "fallback_level", "limit", "limit_unit", "set_clock"}
"""Fields that an order keeps as they were given."""


TONIGHT_SCHEMA = vol.Schema(TONIGHT_FIELDS)


async def charge_tonight(coordinator: ChargehandCoordinator, data: Mapping[str, Any], by: str) -> dict[str, Any]:
    """Give the order for tonight's charge, and return its first answer with what was planned. Raises the platform's errors."""
    check_permission(coordinator, by)
    charge_points(coordinator)
    between = {edge: time for edge, time in data.get("between", {}).items() if time is not None}
    hours = _hours(coordinator, between)
    until: datetime = data[UNTIL] if UNTIL in data else hours.ends - LEAST_LEFT
    asked = {
        **{key: data[key] for key in data if key in KEPT and data[key] is not None},
        "way": str(_way(data, given=bool(between))),
        "in_season": dt_util.as_local(hours.begins).month in data["months"],
        # The night is this one, also when the order is taken up in another hour of it.
        "start": hours.start,
        "end": hours.end,
        "begins": hours.begins.isoformat(),
    }
    order, answer = await give_planned_order(coordinator, OrderKind.CHARGE_TONIGHT, asked, until, by)
    return {**answer, UNTIL: order.until.isoformat()}


def _way(data: Mapping[str, Any], *, given: bool) -> Way:
    """Return how to charge; a plan keeps to its own hours unless the user gave some."""
    if "level" in data:
        return Way.FIXED
    way: Way = data.get("way", Way.PLANNED if given else Way.PLANNED_HOURS)
    return way


async def charge_tonight_now(coordinator: ChargehandCoordinator, order: Order) -> dict[str, Any]:
    """Make one attempt at an order for a night: clock, plan, schedule. Raises the platform's errors."""
    must_answer(coordinator)
    await set_order_clock(coordinator, order)
    order.calculated = made = await _made(coordinator, order)
    coordinator = coordinator.config_entry.runtime_data
    if made["wanted"]:
        receipt = await apply_windows(coordinator, made["charge"], order.by, order)
    else:
        done, _ = await commit_stop(coordinator, order.by, order)
        receipt = receipt_data(done.receipt)
    order.calculated = answer = {"outcome": receipt["outcome"], **made, "receipt": receipt}
    return answer


def _hours(coordinator: ChargehandCoordinator, between: Mapping[str, Any]) -> TonightHours:
    """Return the hours to charge in. Raises ServiceValidationError."""
    try:
        return tonight_hours(coordinator.hass, coordinator.config_entry.options, between, dt_util.utcnow())
    except NoCheapHours as fault:
        raise refused("tonight_no_hours") from fault
    except ValueError as fault:
        raise refused("plan_rejected", reasons=planning_text(fault)) from fault


async def _made(coordinator: ChargehandCoordinator, order: Order) -> dict[str, Any]:
    """Return the plan, what the windows rest on, whether to charge, and the windows. Raises the platform's errors."""
    asked, battery = order.asked, coordinator.config_entry.options.get(BATTERY, {})
    fallback = asked.get("fallback_level", battery.get(FALLBACK_LEVEL))
    tonight = Tonight(
        start=asked["start"],
        end=asked["end"],
        limit=window_limit(asked, battery),
        way=Way(asked["way"]),
        when=When(asked["when"]),
        in_season=asked["in_season"],
        fixed_level=asked.get("level", fallback),
        lowest_level=asked["lowest_level"],
    )
    plan, why_no_plan, basis = None, None, "fixed" if tonight.in_season else "season"
    if tonight.plans:
        can_do_without = fallback is not None or not tonight.in_season
        plan, why_no_plan = await _plan(coordinator, asked, can_do_without=can_do_without)
        basis = "fallback" if plan is None or plan["basis"]["fallback"] else "planned"
    known = plan if basis == "planned" else None
    wanted = tonight.wanted(known)
    if wanted and tonight.way is Way.FIXED and tonight.fixed_level is None:
        raise refused("tonight_no_level")
    lowest_stop = lowest_stop_level(coordinator.inverter.map.schedule)
    charge = tonight_windows(tonight, known, lowest_stop) if wanted else []
    return {"plan": plan, "why_no_plan": why_no_plan, "basis": basis, "wanted": wanted, "charge": charge}


async def _plan(
    coordinator: ChargehandCoordinator, asked: Mapping[str, Any], *, can_do_without: bool
) -> tuple[dict[str, Any] | None, str | None]:
    """Return a plan, or None and why there is none. Raises ServiceValidationError where a night cannot do without."""
    try:
        return (await calculate(coordinator, PLAN_SCHEMA({}), most_kw(coordinator, asked)))[1], None
    except HomeAssistantError as fault:
        if not can_do_without or fault.translation_key == "not_running":
            raise
        return None, str(fault)
