"""Households, a car and a roof that were measured in 2016: see SIMBENCH.md for the source and its licence."""

from functools import cache
from pathlib import Path

import numpy as np

from tests.benchmarks.houses.calendar import EARLIER, STEPS, Floats

_FILE = Path(__file__).parent / "simbench.npz"
_WEEKDAY = 2
"""1 January 2016 was a Friday, 1 January 2025 a Wednesday: so many days later the weekdays are the same."""
_YEAR = 366 * 48


@cache
def measured(name: str) -> Floats:
    """A column in shares of its peak, for all half hours of the measurement, weekdays kept."""
    with np.load(_FILE) as columns:
        year = columns[name] / 10_000
    shares: Floats = year[(np.arange(STEPS) - (EARLIER + _WEEKDAY) * 48) % _YEAR]
    return shares
