"""How an order ended, in words."""

from dataclasses import dataclass

from homeassistant.core import callback

from ..core.order import Order, OrderKind
from ..core.schedule import Schedule
from .schedule_text import schedule_text
from .texts import text

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
    message = text(event, order=order_name(order.what), by=order.by, reason=reason, holds=holds)
    return OrderMessage(message=message, reason=reason, holds=holds)


@callback
def interrupted_text() -> str:
    """Return why an order waits whose first attempt was cut off."""
    return text("order_interrupted")


@callback
def order_name(what: OrderKind) -> str:
    """Return what an order is called: by its action, `apply schedule`."""
    return text(f"order_name_{what}")
