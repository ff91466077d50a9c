"""The schedule's status and its order in words, for the day card."""

from datetime import datetime

from homeassistant.core import callback
from homeassistant.util import dt as dt_util

from ..core.order import Order, OrderState
from .house_time import moment_text
from .order_text import order_name
from .texts import ended, sentence, text


@callback
def schedule_status_text(status: str, since: datetime | None, by: str | None, what: str | None) -> str:
    """Return the status of a schedule: `Confirmed at 21:04, by action apply schedule.` `what` is what has changed, or why it is not known."""
    values = {"when": "" if since is None else when_text(since), "by": by or text("by_nobody")}
    known = sentence(f"day_{status}" if since is not None else f"day_{status}_not_seen", **values)
    told = status in {"changed_elsewhere", "unconfirmed"} and what is not None
    return f"{known} {ended(_capital(what))}" if told and what else known


@callback
def order_status_text(state: OrderState, order: Order) -> str:
    """Return how an order stands."""
    values = {"order": _capital(order_name(order.what)), "until": when_text(order.until), "by": order.by}
    known = sentence(f"day_order_{state}", **values)
    return f"{known} {ended(_capital(order.why))}" if order.why and state is not OrderState.DONE else known


@callback
def when_text(at: datetime) -> str:
    """Return when an aware moment is or was, by the house's clock: `at 21:04`, `yesterday at 21:04`, `3 days ago`."""
    days = (dt_util.as_local(at).date() - dt_util.now().date()).days
    match days:
        case 0:
            return text("day_at", time=moment_text(at))
        case 1:
            return text("day_tomorrow_at", time=moment_text(at))
        case -1:
            return text("day_yesterday_at", time=moment_text(at))
    return text("day_days_ago" if days < 0 else "day_in_days", days=abs(days))


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]
