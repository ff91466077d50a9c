"""The half hours of the yearly measurement: a year from 1 January 2025, and what is known from before."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
from numpy.typing import NDArray

type Floats = NDArray[np.float64]

ZONE = ZoneInfo("Europe/Berlin")
BEGIN = datetime(2025, 1, 1, 20, tzinfo=ZONE)
"""The first evening; each is at this time of the day."""
EARLIER = 60
"""Days before the first evening's that are known."""
FIRST = (BEGIN.replace(hour=0) - timedelta(days=EARLIER)).astimezone(UTC)
"""Start of the first half hour."""
DAYS = EARLIER + 365 + 3
STEPS = DAYS * 48
HALF_HOUR = timedelta(minutes=30)


def place(moment: datetime) -> int:
    """Which half hour a moment begins."""
    return round((moment.astimezone(UTC) - FIRST) / HALF_HOUR)


def half_hours() -> pd.DatetimeIndex:
    """Starts of all half hours, in the house's zone."""
    return pd.date_range(FIRST, periods=STEPS, freq="30min").tz_convert(ZONE)


def day_of_each() -> NDArray[np.int64]:
    """(STEPS) Which local day each half hour is in, from 0 on."""
    return np.unique(half_hours().date, return_inverse=True)[1]


def day_number(day: date) -> int:
    """Which day a date is, from 0 on."""
    return (day - FIRST.astimezone(ZONE).date()).days


def day_sums(kwh: Floats) -> Floats:
    """Energy of each local day."""
    return np.bincount(day_of_each(), kwh)
