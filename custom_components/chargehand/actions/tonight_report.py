"""What actions answer, in words, of the order for tonight's charge."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from homeassistant.exceptions import HomeAssistantError
from homeassistant.util import dt as dt_util

from ..coordinator import ChargehandCoordinator
from ..core.inverter import NotSupported
from ..core.modbus import LineError
from ..core.order import Order, OrderKind, OrderState
from ..core.schedule import Schedule
from ..messages import OrderReport, tonight_done, tonight_done_later, tonight_failed, tonight_waits
from ..nights import When
from .charge_tonight import charge_tonight


async def charge_tonight_in_words(
    coordinator: ChargehandCoordinator, data: Mapping[str, Any], by: str
) -> dict[str, Any]:
    """Give the order for tonight's charge, and return its first answer with a report; with `report_failure`, a failure too."""
    began = dt_util.utcnow()
    try:
        answer = await charge_tonight(coordinator, data, by)
    except HomeAssistantError as fault:
        if not data["report_failure"]:
            raise
        coordinator = coordinator.config_entry.runtime_data
        order = _order(coordinator)
        off = order is not None and order.since >= began and _is_off(order)
        report = tonight_failed(str(fault), await _held(coordinator), off=off)
        return {"outcome": str(OrderState.FAILED), "why": str(fault), **_told(report)}
    return {**answer, **_told(await _report(coordinator.config_entry.runtime_data))}


async def report_tonight(coordinator: ChargehandCoordinator, _data: Mapping[str, Any], _by: str) -> dict[str, Any]:
    """Return what has become of the order for tonight's charge, in words, if that is the last order."""
    order = _order(coordinator)
    state = OrderState.NONE if order is None else coordinator.orders.state
    return {
        "state": str(state),
        "tries": 0 if order is None else order.tries,
        **_told(await _report(coordinator)),
    }


def _order(coordinator: ChargehandCoordinator) -> Order | None:
    order = coordinator.orders.order
    return None if order is None or order.what is not OrderKind.CHARGE_TONIGHT else order


def _told(report: OrderReport | None) -> dict[str, Any]:
    return {"title": None, "message": None, "important": False} if report is None else report.as_dict()


async def _report(coordinator: ChargehandCoordinator) -> OrderReport | None:
    """Return the report of an order; None while there is nothing: one may wait until the hours begin."""
    order = _order(coordinator)
    if order is None:
        return None
    begun = dt_util.utcnow() >= datetime.fromisoformat(order.asked["begins"])
    late_tries = order.tries if begun else 0
    made = order.calculated
    match coordinator.orders.state:
        case OrderState.WAITING if begun:
            return tonight_waits(order, await _held(coordinator), off=_is_off(order))
        case OrderState.DONE if made is not None and "receipt" in made:
            return tonight_done(made, made["receipt"], late_tries=late_tries)
        case OrderState.DONE if late_tries:
            return tonight_done_later(order, await _held(coordinator))
        case OrderState.FAILED:
            return tonight_failed(order.why or "", await _held(coordinator), off=_is_off(order))
        case _:
            # That an order expires was said when the hours began; what it means for the level is said in the morning.
            return None


def _is_off(order: Order) -> bool:
    """Return whether the charge is to be switched off, as far as is known before a plan is made."""
    if order.calculated is not None:
        return not order.calculated["wanted"]
    return order.asked["when"] == When.MONTHS and not order.asked["in_season"]


async def _held(coordinator: ChargehandCoordinator) -> Schedule | None:
    """Return the schedule that the inverter holds now; None where it does not answer."""
    try:
        return await coordinator.inverter.read_schedule()
    except LineError, NotSupported:
        return None
