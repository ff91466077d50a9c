"""The action that charges before expensive hours: by plan, or in the cheapest times; and holds the charge until they begin."""

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any

import voluptuous as vol
from homeassistant.exceptions import HomeAssistantError, ServiceValidationError
from homeassistant.helpers import config_validation as cv
from homeassistant.helpers.typing import VolDictType
from homeassistant.util import dt as dt_util

from ..coordinator import ChargehandCoordinator
from ..core.inverter import level_of
from ..core.order import Order, OrderKind, OrderState, next_shown
from ..core.planning import LEAST_HOURS, MOST_HOURS, DatedPrice, Horizon, WindowRoom
from ..house import known_until
from ..messages import before_not_asked, before_text, order_report, sentence
from ..nights import BATTERY, LEAST_LEFT, BeforeNeed, before_runs, before_windows, target_level
from .answers import REPORT_FAILURE
from .before_prices import GIVEN, NEEDS_HOUSE, PRICE_NAMES, given_prices, prices_at, prices_before
from .charge_limits import ABOVE_0, LIMIT_FIELDS, most_kw, window_limit
from .clock import set_order_clock
from .entries import charge_points
from .failures import check_permission, refused
from .numbers import number, or_empty, whole_number
from .order_giving import UNTIL, new_order, until_of
from .plan_charge import PLAN_SCHEMA, apply_windows, calculate, lowest_stop_level, must_answer

PLANNED, CHEAPEST = "planned", "cheapest"
LEVEL, ENERGY = "level", "energy"
RESERVE = 10.0
"""The reserve in % where neither the action nor the options say one."""

SAME_PRICES = "same_prices"
"""The outcome where nothing was done, because the prices have not changed."""

NO_PRICES = "no_prices"
"""The outcome where the prices that were handed in do not reach; no order was given."""

COMING = "coming"
"""The coming prices that an order was given with, as start and price."""

BEFORE_FIELDS: VolDictType = {
    vol.Required("before"): cv.time,
    vol.Optional("prices"): vol.Any(None, "", list, dict),
    vol.Optional("price_sensor"): vol.Any(None, "", [], cv.entity_id),
    vol.Optional("price_attribute", default="prices"): cv.string,
    vol.Optional("key_start", default="start"): cv.string,
    vol.Optional("key_end", default="end"): cv.string,
    vol.Optional("key_price", default="buy"): cv.string,
    vol.Optional("factor", default=1): ABOVE_0,
    vol.Optional("sell", default=0): number,
    vol.Optional("way", default=PLANNED): vol.In([PLANNED, CHEAPEST]),
    vol.Required("need"): ABOVE_0,
    vol.Optional("need_unit", default=LEVEL): vol.In([LEVEL, ENERGY]),
    vol.Optional("reserve"): or_empty(vol.All(number, vol.Range(0, 100))),
    vol.Optional("capacity"): or_empty(ABOVE_0),
    vol.Optional("draws", default=0): vol.All(number, vol.Range(min=0)),
    vol.Optional("hold", default=True): cv.boolean,
    **LIMIT_FIELDS,
    vol.Optional("places"): or_empty(vol.All(whole_number, vol.Range(min=1))),
    vol.Optional("set_clock", default=True): cv.boolean,
    vol.Optional("only_new_prices", default=False): cv.boolean,
    vol.Optional(REPORT_FAILURE, default=False): cv.boolean,
    vol.Optional(UNTIL): until_of,
}

NOT_KEPT = {"device_id", "before", "prices", "only_new_prices", REPORT_FAILURE, UNTIL}
"""Fields that an order does not keep as they were given."""


async def charge_before(coordinator: ChargehandCoordinator, data: Mapping[str, Any], by: str) -> dict[str, Any]:
    """Give the order for the charge before the coming expensive hours, and return its first answer with a message.

    Raises the platform's errors; with `report_failure`, they are an answer too.
    """
    order = _order(coordinator, data, by)
    if data["only_new_prices"] and not _has_new_prices(coordinator, order):
        return {"outcome": SAME_PRICES, "title": None, "message": None, "important": False}
    try:
        check_permission(coordinator, by)
        charge_points(coordinator)
        _check_given(coordinator, order)
        answer = await coordinator.orders.give(order)
    except HomeAssistantError as fault:
        if not data[REPORT_FAILURE]:
            raise
        order.why = str(fault)
        why = str(fault)
        if fault.translation_key in NEEDS_HOUSE:
            return {"outcome": NO_PRICES, "why": why, **before_not_asked(why).as_dict()}
        order.why = f"{sentence('before_refused')} {why}" if isinstance(fault, ServiceValidationError) else why
        return {"outcome": str(OrderState.FAILED), "why": why, **_report(coordinator, OrderState.FAILED, order)}
    if answer["outcome"] != OrderState.WAITING:
        return answer | {UNTIL: order.until.isoformat()} | _report(coordinator, OrderState.DONE, order)
    # It is reported later, if it goes on waiting.
    return {**answer, **_report(coordinator, OrderState.WAITING, order), "important": False}


async def charge_before_now(coordinator: ChargehandCoordinator, order: Order) -> dict[str, Any]:
    """Make one attempt at such an order: clock, prices, plan or choice, schedule. Raises the platform's errors."""
    must_answer(coordinator)
    await set_order_clock(coordinator, order)
    coordinator, made = await _made(coordinator, order)
    receipt = await apply_windows(coordinator, made["charge"], order.by, order)
    no_plan = made.pop("no_plan_text")
    report = before_text(made["plan"], no_plan, made["charge"], receipt["adjusted"])
    order.calculated = {"outcome": receipt["outcome"], **made, "receipt": receipt, **report.as_dict()}
    return order.calculated


def _order(coordinator: ChargehandCoordinator, data: Mapping[str, Any], by: str) -> Order:
    now, zone = dt_util.utcnow(), dt_util.get_default_time_zone()
    begins = next_shown(data["before"], now + LEAST_LEFT, zone)
    asked = {key: value for key, value in data.items() if key not in NOT_KEPT and value not in (None, "", [])}
    asked |= {name: data[name] for name in PRICE_NAMES} | {"begins": begins.isoformat(), GIVEN: given_prices(data)}
    order = new_order(OrderKind.CHARGE_BEFORE, asked, data.get(UNTIL, begins - LEAST_LEFT), by)
    earlier = coordinator.orders.order
    same = earlier is not None and (earlier.what, earlier.until) == (order.what, order.until)
    if earlier is not None and same and coordinator.orders.stands(earlier):
        # The same charge, given again with prices that are known better: its tries go on.
        order.since, order.tries = earlier.since, earlier.tries
    return order


def _check_given(coordinator: ChargehandCoordinator, order: Order) -> None:
    """Refuse prices that were handed in and do not reach: no order would see others. Raises ServiceValidationError."""
    if order.asked[GIVEN] is not None or "price_sensor" not in order.asked:
        begins = datetime.fromisoformat(order.asked["begins"])
        prices_before(coordinator.hass, order.asked, dt_util.utcnow(), begins)


def _has_new_prices(coordinator: ChargehandCoordinator, order: Order) -> bool:
    """Return whether prices before the hours are others than those that the last such order went by; and let it know these."""
    now, begins = dt_util.utcnow().isoformat(), order.asked["begins"]
    known = _coming(prices_at(coordinator.hass, order.asked))
    coming = [price for price in known if now < price[0] < begins]
    earlier = coordinator.orders.order
    if earlier is None or earlier.what is not order.what:
        return bool(coming)
    seen = [price for price in earlier.asked.get(COMING, []) if now < price[0] < begins]
    earlier.asked[COMING] = known
    return bool(coming) and coming != seen


def _coming(prices: list[DatedPrice]) -> list[list[Any]]:
    return [[price.start.isoformat(), price.buy] for price in prices]


async def _made(coordinator: ChargehandCoordinator, order: Order) -> tuple[ChargehandCoordinator, dict[str, Any]]:
    """Return the plan and the windows; and the coordinator of that time. Raises the platform's errors."""
    asked, now, begins = order.asked, dt_util.utcnow(), datetime.fromisoformat(order.asked["begins"])
    prices = prices_before(coordinator.hass, asked, now, begins)
    asked[COMING] = _coming(prices)
    plan: dict[str, Any] | None = None
    no_plan: str | None = None
    if asked["way"] == PLANNED:
        coordinator, plan, no_plan = await _plan(coordinator, asked, prices, now)
    if plan is not None and not plan["basis"]["fallback"]:
        limit = window_limit(asked, {})
        # The limit in its own unit: one that is converted would be another one at every voltage.
        charge = [{**_without_power(window, limit), **limit} for window in plan["windows"]]
    else:
        if plan is not None:
            no_plan = "before_need_instead"
        charge = _in_cheapest_times(coordinator, asked, prices, begins, now)
    return coordinator, {"plan": plan, "charge": charge, "no_plan_text": no_plan}


def _without_power(window: Mapping[str, Any], limit: Mapping[str, float]) -> dict[str, Any]:
    return {key: value for key, value in window.items() if not limit or key != "power"}


async def _plan(
    coordinator: ChargehandCoordinator, asked: Mapping[str, Any], prices: list[DatedPrice], now: datetime
) -> tuple[ChargehandCoordinator, dict[str, Any] | None, str | None]:
    """Return a plan with these prices, or the text that says why there is none."""
    hours = int((known_until(prices, now) - now) / timedelta(hours=1))
    if hours < LEAST_HOURS:
        return coordinator, None, "before_prices_too_short"
    first = Horizon(start=dt_util.now()).start
    given = [
        {"start": one.start, "end": one.end, "buy": one.buy, "sell": one.sell} for one in prices if one.end > first
    ]
    request = PLAN_SCHEMA({"hours": min(hours, MOST_HOURS), "prices": given})
    try:
        coordinator, plan = await calculate(coordinator, request, most_kw(coordinator, asked))
    except HomeAssistantError as fault:
        if fault.translation_key == "not_running":
            raise
        return coordinator, None, "before_no_plan"
    return coordinator, plan, None


def _in_cheapest_times(
    coordinator: ChargehandCoordinator,
    asked: Mapping[str, Any],
    prices: list[DatedPrice],
    begins: datetime,
    now: datetime,
) -> list[dict[str, Any]]:
    """Return the windows for the need, in the cheapest times before the hours begin."""
    points, zone = charge_points(coordinator), dt_util.get_default_time_zone()
    stops = points.charge[0].stop_level is not None
    need = _need(coordinator, asked, hold=asked["hold"] and stops)
    midnight = dt_util.as_utc(dt_util.start_of_local_day(begins.astimezone(zone)))
    room = WindowRoom(
        windows=asked.get("places", points.charge_places),
        rests=need.hold,
        midnight=None if points.crosses_midnight else midnight,
    )
    limit = window_limit(asked, coordinator.config_entry.options.get(BATTERY, {}))
    windows = before_windows(need, before_runs(need, prices, begins, now, room), begins, zone)
    return [{**{key: one[key] for key in one if stops or key != "stop_level"}, **limit} for one in windows]


def _need(coordinator: ChargehandCoordinator, asked: Mapping[str, Any], *, hold: bool) -> BeforeNeed:
    """Return the need and what it is calculated from. Raises ServiceValidationError for what is not known."""
    battery, level = coordinator.config_entry.options.get(BATTERY, {}), level_of(coordinator.data)
    if level is None:
        raise refused("before_no_level")
    capacity = asked.get("capacity", battery.get("capacity_kwh"))
    power = most_kw(coordinator, asked) or battery.get("charge_kw")
    if capacity is None or power is None:
        raise refused("before_no_battery")
    reserve = float(asked.get("reserve", battery.get("reserve_level", RESERVE)))
    lowest = lowest_stop_level(coordinator.inverter.map.schedule)
    wanted = target_level(
        asked["need"], energy=asked["need_unit"] == ENERGY, reserve=reserve, capacity_kwh=float(capacity)
    )
    return BeforeNeed(
        target=max(wanted, round(lowest)),
        reserve=max(round(reserve), round(lowest)),
        level=level,
        capacity_kwh=float(capacity),
        charge_kw=float(power),
        draws_kw=asked["draws"] / 1000,
        hold=hold,
    )


def _report(coordinator: ChargehandCoordinator, state: OrderState, order: Order) -> dict[str, Any]:
    coordinator = coordinator.config_entry.runtime_data
    held = coordinator.data.schedule if coordinator.last_update_success else None
    return order_report(state, order, held).as_dict()
