"""Giving an order: what the field `until` means, and what an action answers that has it."""

import json
from collections.abc import Mapping
from datetime import UTC, date, datetime, time
from typing import Any

from homeassistant.util import dt as dt_util

from ..coordinator import ChargehandCoordinator
from ..core.order import Order, OrderKind, next_shown
from ..core.schedule import shown
from .failures import refused

UNTIL = "until"


def until_of(value: object) -> datetime:
    """Return, in UTC, until when an order is to be tried. Raises ServiceValidationError for what is no time, or is over."""
    now = dt_util.utcnow()
    if isinstance(value, str):
        value = dt_util.parse_datetime(value.strip()) or dt_util.parse_time(value.strip()) or value
    if isinstance(value, time):
        return next_shown(value, now, dt_util.get_default_time_zone())
    if not isinstance(value, datetime):
        raise refused("until_not_understood", value=shown(value))
    moment = (value if value.tzinfo else value.replace(tzinfo=dt_util.get_default_time_zone())).astimezone(UTC)
    if moment <= now:
        raise refused("until_is_past", value=shown(str(value)))
    return moment


async def give_order(
    coordinator: ChargehandCoordinator, what: OrderKind, asked: Mapping[str, Any], until: datetime, by: str
) -> tuple[Order, dict[str, Any]]:
    """Give the order to do `what` with `asked` until `until`; return it with its first answer. Raises as the action does without `until`."""
    order = new_order(what, asked, until, by)
    return order, await coordinator.orders.give(order)


def new_order(what: OrderKind, asked: Mapping[str, Any], until: datetime, by: str) -> Order:
    """Return the order to do `what` with `asked`, kept as JSON data, from now until `until`."""
    return Order(what=what, asked=_plain(asked), since=dt_util.utcnow(), until=until, by=by)


async def give_planned_order(
    coordinator: ChargehandCoordinator, what: OrderKind, asked: Mapping[str, Any], until: datetime, by: str
) -> tuple[Order, dict[str, Any]]:
    """Give an order that plans before it applies: one that waits says so under `receipt`, beside what was planned."""
    order, answer = await give_order(coordinator, what, asked, until, by)
    return order, answer if "receipt" in answer else {**answer, **(order.calculated or {}), "receipt": answer}


def _plain(asked: Mapping[str, Any]) -> dict[str, Any]:
    """Return what was asked as JSON data; what has no place in it is refused later for what it is not."""
    plain: dict[str, Any] = json.loads(json.dumps(dict(asked), default=_text))
    return plain


def _text(value: object) -> str:
    return value.isoformat() if isinstance(value, date | datetime) else repr(value)
