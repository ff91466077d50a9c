"""How an order ended, in words."""

from dataclasses import dataclass

from homeassistant.core import callback
from homeassistant.helpers.translation import async_get_exception_message

from ..const import DOMAIN
from ..core.order import Order
from ..core.schedule import Schedule
from .schedule_text import schedule_text

NOT_KNOWN = "–"


@dataclass(frozen=True, kw_only=True, slots=True)
class OrderMessage:
    """The whole message, and two parts of it: the reason, and what the inverter holds."""

    message: str
    reason: str
    holds: str


@callback
def order_text(event: str, order: Order, held: Schedule | None) -> OrderMessage:
    """Return how an order ended; `event` is the event's key, `held` the schedule that was read last."""
    reason = (order.why or NOT_KNOWN).rstrip(".")
    holds = NOT_KNOWN if held is None else schedule_text(held)
    values = {"order": order.what.replace("_", " "), "by": order.by, "reason": reason, "holds": holds}
    return OrderMessage(message=async_get_exception_message(DOMAIN, event, values), reason=reason, holds=holds)


@callback
def interrupted_text() -> str:
    """Return why an order waits whose first attempt was cut off."""
    return async_get_exception_message(DOMAIN, "order_interrupted", {})
