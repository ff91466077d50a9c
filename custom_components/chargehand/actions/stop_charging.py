"""The actions that stop the charge by schedule, and start again what was stopped."""

from collections.abc import Callable, Mapping
from dataclasses import asdict
from datetime import datetime
from typing import Any

import voluptuous as vol
from homeassistant.core import HomeAssistant, callback
from homeassistant.exceptions import HomeAssistantError
from homeassistant.helpers import config_validation as cv
from homeassistant.helpers.typing import VolDictType

from ..coordinator import ChargehandCoordinator
from ..core.order import Order, OrderKind, OrderState
from ..core.schedule import ChargeResumed, ChargeStopped, Committed, Outcome, Schedule, charges, window_from_dict
from ..messages import Message, not_resumed_text, not_stopped_text, resumed_text, schedule_text, stopped_text
from .answers import REPORT_FAILURE, failure_data, receipt_data
from .callers import asker
from .entries import charge_points
from .failures import committing
from .order_giving import UNTIL, give_order, until_of

STOP_FIELDS: VolDictType = {
    vol.Optional(UNTIL): until_of,
    vol.Optional(REPORT_FAILURE, default=False): cv.boolean,
}


async def stop_charging(coordinator: ChargehandCoordinator, data: Mapping[str, Any], by: str) -> dict[str, Any]:
    """Disarm the charge windows, or take them off where nothing disarms; return the receipt, what was held before, and a message.

    Nothing is written where no charge window may act. Raises the platform's errors unless the answer is to report them.
    """
    try:
        if UNTIL not in data:
            return await _stop(coordinator, by)
        answer = (await give_order(coordinator, OrderKind.STOP_CHARGING, {}, data[UNTIL], by))[1]
    except HomeAssistantError as fault:
        return failure_data(data, fault, not_stopped_text(str(fault), None))
    return _in_words(coordinator, answer, not_stopped_text)


async def stop_charging_now(coordinator: ChargehandCoordinator, order: Order) -> dict[str, Any]:
    """Stop the charge for an order, and return what the action answers. Raises the platform's errors."""
    order.calculated = answer = await _stop(coordinator, order.by, order)
    return answer


async def resume_charging(coordinator: ChargehandCoordinator, data: Mapping[str, Any], by: str) -> dict[str, Any]:
    """Start the charge again that the same asker stopped; return the receipt and a message.

    Nothing is written where somebody has armed a charge since, or after a restart. Raises the platform's errors unless the answer is to
    report them.
    """
    try:
        charge = coordinator.stopped_charge.hand_out(asker(by))
        if charge is None:
            await _no_longer_stop(coordinator)
            return await _nothing_to_resume(coordinator, by)
        asked = {"charge": [asdict(window) for window in charge]}
        if UNTIL not in data:
            return await _resume(coordinator, asked, by)
        answer = (await give_order(coordinator, OrderKind.RESUME_CHARGING, asked, data[UNTIL], by))[1]
    except HomeAssistantError as fault:
        return failure_data(data, fault, not_resumed_text(str(fault), None))
    return _in_words(coordinator, answer, not_resumed_text)


async def resume_charging_now(coordinator: ChargehandCoordinator, order: Order) -> dict[str, Any]:
    """Start the charge of an order again, and return what the action answers. Raises the platform's errors."""
    order.calculated = answer = await _resume(coordinator, order.asked, order.by, order)
    return answer


@callback
def stop_not_running(_hass: HomeAssistant, data: Mapping[str, Any], fault: HomeAssistantError) -> dict[str, Any]:
    """Return that the charge is not stopped, where failures are to be reported. Raises the error otherwise."""
    return failure_data(data, fault, not_stopped_text(str(fault), None))


@callback
def resume_not_running(_hass: HomeAssistant, data: Mapping[str, Any], fault: HomeAssistantError) -> dict[str, Any]:
    """Return that the charge is not started again, where failures are to be reported. Raises the error otherwise."""
    return failure_data(data, fault, not_resumed_text(str(fault), None))


async def commit_stop(
    coordinator: ChargehandCoordinator, by: str, order: Order | None = None
) -> tuple[Committed, Schedule]:
    """Commit the schedule without its charge; return what was committed and the schedule before. Raises the platform's errors."""
    with committing(coordinator, by):
        charge_points(coordinator)
        done = await coordinator.commits.change(ChargeStopped(), by, order, confirms=False)
        before = coordinator.inverter.schedule_of(done.before, done.shift)
    if done.receipt.registers_written > 0:
        coordinator.stopped_charge.keep(asker(by), before.charge, done.schedule.charge)
    return done, before


async def _stop(coordinator: ChargehandCoordinator, by: str, order: Order | None = None) -> dict[str, Any]:
    done, before = await commit_stop(coordinator, by, order)
    written = done.receipt.registers_written > 0
    message = stopped_text(written=written, removed=before.armed == done.schedule.armed, failed=_failed_tries(order))
    return {**receipt_data(done.receipt), "held": schedule_text(before), **message.as_dict()}


async def _resume(
    coordinator: ChargehandCoordinator, asked: Mapping[str, Any], by: str, order: Order | None = None
) -> dict[str, Any]:
    with committing(coordinator, by):
        charge_points(coordinator)
        charge = [window_from_dict(window) for window in asked["charge"]]
        done = await coordinator.commits.change(ChargeResumed(charge), by, order, confirms=False)
    message = _resumed(done.schedule, written=done.receipt.registers_written > 0, failed=_failed_tries(order))
    return {**receipt_data(done.receipt), **message.as_dict()}


async def _no_longer_stop(coordinator: ChargehandCoordinator) -> None:
    """End an order to stop the charge that still waits for the inverter."""
    order = coordinator.orders.order
    if order is not None and order.what is OrderKind.STOP_CHARGING:
        await coordinator.orders.replace(order)


async def _nothing_to_resume(coordinator: ChargehandCoordinator, by: str) -> dict[str, Any]:
    with committing(coordinator, by):
        charge_points(coordinator)
        held = await coordinator.inverter.read_schedule()
    return {"outcome": str(Outcome.UNCHANGED), "changes": [], **_resumed(held).as_dict()}


def _resumed(schedule: Schedule, *, written: bool = False, failed: int = 0) -> Message:
    windows = any(window.used for window in schedule.charge)
    return resumed_text(charges=charges(schedule), written=written, windows=windows, failed=failed)


def _failed_tries(order: Order | None) -> int:
    return 0 if order is None else order.tries


def _in_words(
    coordinator: ChargehandCoordinator, answer: dict[str, Any], waiting: Callable[[str, datetime], Message]
) -> dict[str, Any]:
    """Return an order's first answer with a message, also where it waits."""
    if answer["outcome"] != OrderState.WAITING:
        return answer
    held = coordinator.data.schedule
    message = waiting(answer["why"], datetime.fromisoformat(answer[UNTIL]))
    return {**answer, "held": held and schedule_text(held), **message.as_dict()}
