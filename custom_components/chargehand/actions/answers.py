"""A receipt as actions answer it."""

from dataclasses import asdict
from typing import Any

from ..core.schedule import Receipt


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
