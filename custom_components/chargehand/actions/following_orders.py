"""Working on orders: what each kind does at an attempt, when another one makes sense, and how users learn how it ended."""

from collections.abc import Awaitable, Callable, Mapping
from datetime import datetime
from functools import partial
from typing import Any

from homeassistant.core import HomeAssistant, callback
from homeassistant.exceptions import HomeAssistantError
from homeassistant.helpers import device_registry as dr

from ..changes import OrderWork, ScheduleEvent
from ..connection import device_identifier
from ..const import EVENT_ORDER
from ..coordinator import ChargehandConfigEntry, ChargehandCoordinator
from ..core.inverter import Subscription
from ..core.modbus import LineError
from ..core.order import Order, OrderKind, OrderState
from ..core.schedule import NoJournal, NotTaken, Rejected, Uncertain
from ..messages import interrupted_text, order_report, order_text
from .before_prices import NEEDS_HOUSE
from .charge_before import charge_before_now
from .charge_tonight import charge_tonight_now
from .plan_charge import plan_charge_now
from .putting_back import put_earlier_now
from .schedule import apply_now
from .stop_charging import resume_charging_now, stop_charging_now

type Attempt = Callable[[ChargehandCoordinator, Order], Awaitable[dict[str, Any]]]

ATTEMPTS: Mapping[OrderKind, Attempt] = {
    OrderKind.APPLY_SCHEDULE: apply_now,
    OrderKind.RESTORE_SCHEDULE: put_earlier_now,
    OrderKind.PLAN_CHARGE: plan_charge_now,
    OrderKind.CHARGE_TONIGHT: charge_tonight_now,
    OrderKind.STOP_CHARGING: stop_charging_now,
    OrderKind.RESUME_CHARGING: resume_charging_now,
    OrderKind.CHARGE_BEFORE: charge_before_now,
}

EVENTS = {
    OrderState.DONE: ScheduleEvent.ORDER_DONE,
    OrderState.FAILED: ScheduleEvent.ORDER_FAILED,
    OrderState.EXPIRED: ScheduleEvent.ORDER_EXPIRED,
}

PASSING = {"stopping", "not_running"}
"""Errors of Home Assistant's own state: it is going down, or the entry is being set up again."""


@callback
def follow_orders(hass: HomeAssistant, entry: ChargehandConfigEntry) -> None:
    """Work on the entry's orders from now on, each time that the inverter has answered a poll."""
    coordinator = entry.runtime_data
    orders = coordinator.orders
    if orders.order is not None and orders.order.why is None:
        # It was kept before its first attempt had ended.
        orders.order.why = interrupted_text()

    answered_at: datetime | None = None

    @callback
    def take_up() -> None:
        # A poll that failed and is forgiven leaves what was read before.
        nonlocal answered_at
        if coordinator.last_update_success and coordinator.data.read_at != answered_at:
            answered_at = coordinator.data.read_at
            orders.take_up()
        elif not coordinator.last_update_success:
            orders.count_silence()

    orders.start(
        OrderWork(
            carry_out=partial(_carry_out, coordinator),
            may_come_true=_may_come_true,
            takes_time=lambda fault: isinstance(fault.__cause__, NotTaken | Uncertain | Rejected),
            needs_house=lambda fault: fault.translation_key in NEEDS_HOUSE,
            report=partial(_report, coordinator),
            poll=coordinator.async_request_refresh,
        )
    )
    entry.async_on_unload(coordinator.async_add_listener(take_up, Subscription(needs=frozenset())))
    if orders.order is not None and orders.order.what is OrderKind.RESUME_CHARGING:
        # What stopped the charge may not be watching yet: nothing is armed again after a restart.
        orders.expire()
    take_up()


async def _carry_out(coordinator: ChargehandCoordinator, order: Order) -> dict[str, Any]:
    return await ATTEMPTS[order.what](coordinator, order)


def _may_come_true(fault: HomeAssistantError) -> bool:
    cause = fault.__cause__
    if isinstance(cause, NotTaken):
        return cause.lost
    if isinstance(cause, Rejected):
        return cause.momentary
    return isinstance(cause, LineError | NoJournal | Uncertain) or fault.translation_key in PASSING | NEEDS_HOUSE


@callback
def _report(coordinator: ChargehandCoordinator, state: OrderState, order: Order) -> None:
    """Record how an order ended in the activity log, and fire the event that automations notify of."""
    entry, held = coordinator.config_entry, coordinator.data.schedule
    if state in EVENTS:
        text = order_text(EVENTS[state], order, held)
        coordinator.activity_log.record(EVENTS[state], text.message, reason=text.reason, holds=text.holds)
    device = dr.async_get(coordinator.hass).async_get_device_by_identifier(
        device_identifier(entry.entry_id), entry.entry_id
    )
    coordinator.hass.bus.async_fire(
        EVENT_ORDER,
        {
            "device_id": None if device is None else device.id,
            "inverter": entry.title,
            "what": str(order.what),
            "by": order.by,
            "state": str(state),
            "tries": order.tries,
            **order_report(state, order, held if coordinator.last_update_success else None).as_dict(),
        },
    )
