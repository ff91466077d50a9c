"""The energy under a power that was read now and then, by the straight line between two readings."""

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True, kw_only=True, slots=True)
class Sample:
    """A power in W, read at an aware moment."""

    watts: float
    at: datetime


def energy_between(before: Sample, after: Sample) -> float:
    """Return the energy in Wh of what lies above zero on the straight line from one sample to a later one.

    That of the opposite power is what lies below zero, so that the two differ by the trapezoid of both.
    """
    hours = (after.at - before.at).total_seconds() / 3600
    high, low = max(before.watts, after.watts), min(before.watts, after.watts)
    if high <= 0 or hours <= 0:
        return 0.0
    if low >= 0:
        return (high + low) / 2 * hours
    # The line is above zero for this part of the time only.
    return high / 2 * hours * high / (high - low)
