"""The energy of a power that is sampled now and then, by linear interpolation between two samples."""

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True, kw_only=True, slots=True)
class Sample:
    """A power in W, read at an aware moment."""

    watts: float
    at: datetime


def energy_between(before: Sample, after: Sample) -> float:
    """Return the energy in Wh above zero under the straight line from one sample to a later one.

    Below zero it is the energy of the opposite power. The difference of the two is the trapezoid's area.
    """
    hours = (after.at - before.at).total_seconds() / 3600
    high, low = max(before.watts, after.watts), min(before.watts, after.watts)
    if high <= 0 or hours <= 0:
        return 0.0
    if low >= 0:
        return (high + low) / 2 * hours
    # The line is above zero only for part of the time.
    return high / 2 * hours * high / (high - low)
