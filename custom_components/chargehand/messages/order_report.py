"""What users read of an order: that it still waits, or how it ended."""

from dataclasses import dataclass
from typing import Any

from homeassistant.core import callback

from ..core.order import Order, OrderKind, OrderState
from ..core.schedule import Schedule
from .house_time import moment_text
from .order_text import order_name
from .schedule_text import schedule_text
from .texts import ended, sentence, text

TRIES_REPORTED = 3
"""An order that still waits after so many tries is reported."""

TITLES = {
    OrderKind.CHARGE_BEFORE: "charge_before",
    OrderKind.RESTORE_SCHEDULE: "restore_schedule",
    OrderKind.STOP_CHARGING: "stop_charging",
    OrderKind.RESUME_CHARGING: "resume_charging",
}
"""Orders with titles of their own; the others are called by their action."""

MESSAGES = {OrderState.WAITING: "waits", OrderState.FAILED: "cannot", OrderState.EXPIRED: "is_over"}


@dataclass(frozen=True, kw_only=True, slots=True)
class OrderReport:
    """A report with its title. An `important` one is of something that did not go as usual."""

    title: str
    message: str
    important: bool

    def as_dict(self) -> dict[str, Any]:
        """Return the same as data."""
        return {"title": self.title, "message": self.message, "important": self.important}


@callback
def order_report(state: OrderState, order: Order, held: Schedule | None) -> OrderReport:
    """Return the report of an order that has come to `state`; `held` is what the inverter holds, None while it does not answer.

    What an order that is done did comes from what its last attempt had calculated: `message`, and whether that is `important`.
    """
    values = {
        "order": order_name(order.what),
        "tries": str(order.tries),
        "until": moment_text(order.until),
    }
    done = state is OrderState.DONE
    title = text(f"order_{TITLES.get(order.what, 'any')}_{'set' if done else 'not_set'}", **values)
    if not done:
        message = sentence(f"order_{MESSAGES[state]}", **values, reason=_reason(order, held))
        return OrderReport(title=title, message=message, important=True)
    made = order.calculated or {}
    message = made["message"] if "message" in made else _holds(held)
    waited = order.tries >= TRIES_REPORTED
    if waited:
        message = f"{sentence('order_worked', **values)} {message}"
    return OrderReport(
        title=made.get("title", title), message=message, important=waited or made.get("important", False)
    )


def _reason(order: Order, held: Schedule | None) -> str:
    """Return why an order is not done, and what the inverter holds."""
    if held is None:
        return sentence("order_no_answer")
    why = order.why or ""
    holds = "" if schedule_text(held) in why else _holds(held)
    return " ".join(filter(None, (ended(why) if why else "", holds)))


def _holds(held: Schedule | None) -> str:
    return "" if held is None else sentence("order_holds", holds=schedule_text(held))
