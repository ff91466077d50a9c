"""The action that answers how much to charge tonight, when, and why; and puts it on the inverter when it is asked to."""

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import Any

import voluptuous as vol
from homeassistant.config_entries import ConfigEntryState
from homeassistant.const import ATTR_DEVICE_ID
from homeassistant.helpers import config_validation as cv
from homeassistant.util import dt as dt_util

from ..coordinator import ChargehandCoordinator
from ..core.inverter import level_of
from ..core.modbus import LineError
from ..core.order import Order, OrderKind
from ..core.planning import LEAST_HOURS, MOST_HOURS, Hour, Limits
from ..core.registers import SchedulePoints
from ..core.schedule import ScheduleRequest, WindowRequest
from ..house import KnownFrom, Outdoor, PricesUnreadable, outdoor_temperatures, solar_forecast
from ..messages import planning_text
from ..nights import (
    BATTERY,
    OUTDOOR_SENSOR,
    TARIFF,
    WEATHER,
    PlanInputs,
    load_hours,
    planned,
    planned_night,
    prices_at_hand,
    solar_hours,
)
from .answers import receipt_data
from .entries import charge_points
from .failures import check_permission, committing, refused, translated
from .numbers import number
from .order_giving import UNTIL, give_planned_order, until_of

LOWEST_STOP_LEVEL = 10.0

PLAN_FIELDS = {
    vol.Optional("hours"): vol.All(number, vol.Range(LEAST_HOURS, MOST_HOURS)),
    vol.Optional("prices"): [
        vol.Schema(
            {
                vol.Required("start"): cv.datetime,
                vol.Required("end"): cv.datetime,
                vol.Required("buy"): number,
                vol.Optional("sell", default=0.0): number,
            }
        )
    ],
    vol.Optional("solar_kwh"): vol.All(number, vol.Range(0, 10_000)),
    vol.Optional("load_kwh"): vol.All(number, vol.Range(0, 10_000)),
    vol.Optional("reserve_level"): vol.All(number, vol.Range(0, 100)),
    vol.Optional("highest_level"): vol.All(number, vol.Range(0, 100)),
    vol.Optional("apply", default=False): cv.boolean,
    vol.Optional(UNTIL): until_of,
}
PLAN_SCHEMA = vol.Schema(PLAN_FIELDS)


async def plan_charge(coordinator: ChargehandCoordinator, data: Mapping[str, Any], by: str) -> dict[str, Any]:
    """Plan, and apply when asked. Raises ServiceValidationError for what is missing or wrong, and as `apply_schedule`."""
    asked = {key: data[key] for key in data if key not in {ATTR_DEVICE_ID, UNTIL}}
    if not asked["apply"]:
        if UNTIL in data:
            raise refused("until_without_apply")
        return (await calculate(coordinator, asked))[1]
    check_permission(coordinator, by)
    if UNTIL not in data:
        return await _apply(coordinator, asked, by)
    return (await give_planned_order(coordinator, OrderKind.PLAN_CHARGE, asked, data[UNTIL], by))[1]


async def plan_charge_now(coordinator: ChargehandCoordinator, order: Order) -> dict[str, Any]:
    """Plan anew for an order, and apply the plan. Raises the platform's errors."""
    return await _apply(coordinator, PLAN_SCHEMA(order.asked), order.by, order)


async def _apply(
    coordinator: ChargehandCoordinator, asked: Mapping[str, Any], by: str, order: Order | None = None
) -> dict[str, Any]:
    if order is not None:
        must_answer(coordinator)
    coordinator, answer = await calculate(coordinator, asked)
    if order is not None:
        order.calculated = dict(answer)
    receipt = await apply_windows(coordinator, answer["windows"], by, order)
    return answer | {"receipt": receipt}


def must_answer(coordinator: ChargehandCoordinator) -> None:
    """Raise the line's error when the last poll failed: a plan would rest on what was read before, or fail for another reason."""
    if coordinator.last_update_success:
        return
    error = coordinator.last_exception
    cause = None if error is None else error.__cause__
    with translated(coordinator):
        raise cause if isinstance(cause, LineError) else LineError("the last poll failed")


async def apply_windows(
    coordinator: ChargehandCoordinator, windows: Sequence[Mapping[str, Any]], by: str, order: Order | None = None
) -> dict[str, Any]:
    """Put charge windows on the inverter, and return the receipt. Raises the platform's errors."""
    schedule = coordinator.data.schedule
    # Nothing to charge: the windows go, and whether discharge windows are armed stays as it is.
    armed = bool(windows) or schedule is None or schedule.armed is not False
    request = ScheduleRequest(charge=[WindowRequest(**window) for window in windows], armed=armed)
    with committing(coordinator, by):
        return receipt_data(await coordinator.commits.apply(request, by, order))


@contextmanager
def planning() -> Iterator[None]:
    """Raise what makes a plan impossible as ServiceValidationError."""
    try:
        yield
    except PricesUnreadable as fault:
        raise refused(fault.key, **fault.values) from fault
    except ValueError as fault:
        raise refused("plan_rejected", reasons=planning_text(fault)) from fault


async def calculate(
    coordinator: ChargehandCoordinator, asked: Mapping[str, Any], most_kw: float | None = None
) -> tuple[ChargehandCoordinator, dict[str, Any]]:
    """Make a plan and show it; `most_kw` is the most that its windows may charge with.

    Return it, and the coordinator of that time. Raises ServiceValidationError for what is missing or wrong.
    """
    hass = coordinator.hass
    points = charge_points(coordinator)
    await coordinator.settle_nights()
    with planning():
        inputs = await plan_inputs(coordinator, asked, most_kw)
        # Numbers for a third of a second: not on the event loop.
        calculated = await hass.async_add_executor_job(planned, inputs)
    entry = coordinator.config_entry
    if entry.state is not ConfigEntryState.LOADED:
        raise refused("not_running", inverter=entry.title)
    # The entry may have been reloaded meanwhile.
    coordinator = entry.runtime_data
    calculated.explain(hass.config.currency)
    answer = calculated.answer
    if points.charge[0].stop_level is None:
        answer["windows"] = [
            {key: window[key] for key in window if key != "stop_level"} for window in answer["windows"]
        ]
    coordinator.take_plan(dict(answer), calculated.until, planned_night(calculated))
    return coordinator, answer


async def plan_inputs(
    coordinator: ChargehandCoordinator, asked: Mapping[str, Any], most_kw: float | None = None
) -> PlanInputs:
    """Return what a plan is made from. Raises ServiceValidationError for what is missing, and PricesUnreadable."""
    hass, options, values = coordinator.hass, coordinator.config_entry.options, coordinator.data.values
    points = charge_points(coordinator)
    if BATTERY not in options:
        raise refused("plan_no_battery")
    if "prices" not in asked and TARIFF not in options:
        raise refused("plan_no_tariff")
    # What was read before the inverter fell silent may be hours old.
    level = level_of(coordinator.data) if coordinator.last_update_success else None
    if level is None:
        raise refused("plan_no_level")
    given = options[BATTERY]
    prices = prices_at_hand(hass, options, asked)
    load: list[Hour] = []
    load_from, outdoor = KnownFrom.GIVEN, Outdoor()
    if "load_kwh" not in asked:
        load, load_from = await load_hours(hass, coordinator.config_entry)
        outdoor = await outdoor_temperatures(hass, given.get(OUTDOOR_SENSOR), given.get(WEATHER))
    forecast = {} if "solar_kwh" in asked else await solar_forecast(hass)
    return PlanInputs(
        options=options,
        asked=asked,
        now=dt_util.now(),
        latitude=hass.config.latitude,
        level=level,
        limits=_limits(points, values.get("battery_voltage"), most_kw),
        prices=prices,
        load=load,
        load_from=load_from,
        outdoor=outdoor,
        solar=() if forecast or "solar_kwh" in asked else await solar_hours(hass, coordinator.config_entry) or (),
        forecast=forecast,
        pairs=coordinator.nights.pairs(),
    )


def _limits(points: SchedulePoints, volts: object, most_kw: float | None) -> Limits:
    """Return what these charge windows can hold; a current is a power by the battery's voltage of now."""
    first = points.charge[0]
    most = most_kw
    if first.power is not None and first.power.is_known:
        most = _lower(most_kw, first.power.maximum / 1000)
    elif first.current is not None and (by_current := kilowatts(first.current.maximum, volts)) is not None:
        most = _lower(most_kw, by_current)
    return Limits(
        windows=points.charge_places,
        step_minutes=points.step_minutes,
        splits_at_midnight=not points.crosses_midnight,
        lowest_stop_level=lowest_stop_level(points),
        most_kw=most,
        one_stop_level=first.stop_level is not None and first.stop_level.shared,
        one_power=any(limit is not None and limit.shared for limit in (first.power, first.current)),
    )


def kilowatts(amperes: float, volts: object) -> float | None:
    """Return a current in kW by the battery's voltage as it was read; None where that is not known."""
    return amperes * volts / 1000 if isinstance(volts, int | float) and volts > 0 else None


def lowest_stop_level(points: SchedulePoints | None) -> float:
    """Return the lowest stop level in % of the charge windows; Chargehand's own where the inverter has none."""
    stop_level = None if points is None else points.charge[0].stop_level
    return LOWEST_STOP_LEVEL if stop_level is None else stop_level.minimum


def _lower(one: float | None, other: float) -> float:
    return other if one is None else min(one, other)
