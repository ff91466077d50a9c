"""A receipt, and a failure, as actions answer them."""

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from homeassistant.exceptions import HomeAssistantError

from ..core.order import OrderState
from ..core.schedule import Receipt
from ..messages import Message


def receipt_data(receipt: Receipt) -> dict[str, Any]:
    """Return a receipt as an action answers it."""
    return {
        "outcome": str(receipt.outcome),
        "changes": [asdict(change) for change in receipt.changes],
        "registers_written": receipt.registers_written,
        "registers_read_back": receipt.registers_read_back,
        "requests": {"reads": receipt.reads, "writes": receipt.writes, "retries": receipt.retries},
        "adjusted": [asdict(adjustment) for adjustment in receipt.adjusted],
        "seconds": receipt.seconds,
        "at": receipt.at.isoformat(),
    }


REPORT_FAILURE = "report_failure"
"""The field by which an action returns a failure instead of raising it."""


def failure_data(data: Mapping[str, Any], fault: HomeAssistantError, message: Message) -> dict[str, Any]:
    """Return a failure as an action answers it, where that was asked for. Raises it otherwise."""
    if not data[REPORT_FAILURE]:
        raise fault
    return {"outcome": str(OrderState.FAILED), "why": str(fault), **message.as_dict()}
