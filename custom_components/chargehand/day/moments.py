"""Moments as JSON data."""

from datetime import datetime


def moment(at: datetime | None) -> str | None:
    """Return a moment as ISO 8601 has it; None where there is none."""
    return None if at is None else at.isoformat()
