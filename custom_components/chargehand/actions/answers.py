"""A receipt, a reason, and a failure, as actions answer them."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any

from homeassistant.exceptions import HomeAssistantError

from ..core.order import OrderState
from ..core.reasons import Reason
from ..core.schedule import Adjustment, Receipt, place_of
from ..messages import Message, activity_texts, reason_text


def receipt_data(receipt: Receipt) -> dict[str, Any]:
    """Return a receipt as an action answers it."""
    return {
        "outcome": str(receipt.outcome),
        "changes": [asdict(change) for change in receipt.changes],
        "in_words": activity_texts(receipt.was, receipt.now),
        "registers_written": receipt.registers_written,
        "saved": receipt.saved,
        "registers_read_back": receipt.registers_read_back,
        "requests": {"reads": receipt.reads, "writes": receipt.writes, "retries": receipt.retries},
        "adjusted": adjusted_data(receipt.adjusted),
        "seconds": receipt.seconds,
        "at": receipt.at.isoformat(),
    }


def adjusted_data(adjusted: Sequence[Adjustment]) -> list[dict[str, str]]:
    """Return where other limits are applied than were asked for."""
    return [asdict(adjustment) for adjustment in adjusted]


def reason_data(reason: Reason) -> dict[str, Any]:
    """Return why a schedule cannot be: `text`, `key`, its values, and `side` and `number` of the window that it is about, if it is about one."""
    place = place_of(reason)
    about = {} if place is None else {"side": str(place[0]), "number": place[1]}
    return {**reason.values, **about, "text": reason_text(reason), "key": reason.key}


REPORT_FAILURE = "report_failure"
"""The field by which an action returns a failure instead of raising it."""


def failure_data(data: Mapping[str, Any], fault: HomeAssistantError, message: Message) -> dict[str, Any]:
    """Return a failure as an action answers it, where that was asked for. Raises it otherwise."""
    if not data[REPORT_FAILURE]:
        raise fault
    return {"outcome": str(OrderState.FAILED), "why": str(fault), **message.as_dict()}
