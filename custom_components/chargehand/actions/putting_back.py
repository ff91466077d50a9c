"""The actions that put an earlier schedule back, or keep the one that is on the inverter."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

import voluptuous as vol
from homeassistant.exceptions import HomeAssistantError
from homeassistant.helpers import config_validation as cv
from homeassistant.helpers.typing import VolDictType
from homeassistant.util import dt as dt_util

from ..changes import EarlierSchedule
from ..coordinator import ChargehandCoordinator
from ..core.order import Order, OrderKind, OrderState
from ..core.schedule import Receipt
from ..messages import Message, kept_text, not_kept_text, not_put_back_text, put_back_text
from .answers import REPORT_FAILURE, failure_data, receipt_data
from .failures import committing, translated
from .order_giving import UNTIL, give_order, until_of
from .schedule import schedule_data

BEFORE_LAST_CHANGE, CONFIRMED = "before_last_change", "confirmed"
"""Which schedule `restore_schedule` puts back."""

KEEP_FIELDS: VolDictType = {vol.Optional(REPORT_FAILURE, default=False): cv.boolean}

RESTORE_FIELDS: VolDictType = {
    vol.Optional("which", default=BEFORE_LAST_CHANGE): vol.In([BEFORE_LAST_CHANGE, CONFIRMED]),
    vol.Optional(UNTIL): until_of,
    **KEEP_FIELDS,
}


async def restore_schedule(coordinator: ChargehandCoordinator, data: Mapping[str, Any], by: str) -> dict[str, Any]:
    """Put an earlier schedule back and return the receipt, or how its order waits, with a message. Raises the platform's errors."""
    confirmed = data["which"] == CONFIRMED
    try:
        if UNTIL not in data:
            return await restore(coordinator, by, confirmed=confirmed)
        # Which schedule is meant is decided now: put on the inverter twice, it is still the same one.
        with committing(coordinator, by):
            earlier = coordinator.commits.earlier(confirmed=confirmed).as_dict()
        answer = (await give_order(coordinator, OrderKind.RESTORE_SCHEDULE, earlier, data[UNTIL], by))[1]
    except HomeAssistantError as fault:
        return failure_data(data, fault, not_put_back_text(str(fault), coordinator.data.schedule, None))
    if answer["outcome"] != OrderState.WAITING:
        return answer
    return {**answer, **not_put_back_text(answer["why"], None, datetime.fromisoformat(answer[UNTIL])).as_dict()}


async def restore(coordinator: ChargehandCoordinator, by: str, *, confirmed: bool = False) -> dict[str, Any]:
    """Put back the schedule before the last change, or the confirmed one, and return the answer. Raises the platform's errors."""
    commits = coordinator.commits
    with committing(coordinator, by):
        receipt = await (commits.put_back(by) if confirmed else commits.restore(by))
    return _answer(coordinator, receipt, counts=confirmed)


async def put_earlier_now(coordinator: ChargehandCoordinator, order: Order) -> dict[str, Any]:
    """Put the earlier schedule of an order on the inverter, and return the answer. Raises the platform's errors."""
    with committing(coordinator, order.by):
        earlier = EarlierSchedule.from_dict(order.asked)
        receipt = await coordinator.commits.put_earlier(earlier, order.by, order)
    order.calculated = answer = _answer(coordinator, receipt, counts=earlier.counts)
    return answer


def _answer(coordinator: ChargehandCoordinator, receipt: Receipt, *, counts: bool) -> dict[str, Any]:
    held, answer = coordinator.data.schedule, receipt_data(receipt)
    if held is None:
        return answer
    today = coordinator.storage.put_back_on(dt_util.now().date().isoformat()) if counts else None
    message: Message = put_back_text(held, written=receipt.registers_written, put_backs=today)
    return {**answer, **message.as_dict()}


async def keep_schedule(coordinator: ChargehandCoordinator, data: Mapping[str, Any], by: str) -> dict[str, Any]:
    """Accept what the inverter holds as wanted, and return it with a message. Raises the platform's errors."""
    order = coordinator.orders.order
    if order is not None and order.what is OrderKind.RESTORE_SCHEDULE:
        # Who wants to keep a schedule does not want it replaced as soon as the inverter answers.
        await coordinator.orders.replace(order)
    try:
        with translated(coordinator):
            kept = await coordinator.commits.keep(by)
    except HomeAssistantError as fault:
        return failure_data(data, fault, not_kept_text(str(fault)))
    return {**schedule_data(kept), **kept_text(kept).as_dict()}
