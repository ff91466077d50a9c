"""The house around the inverter: what it uses and what its roof gives, hour by hour."""

from dataclasses import dataclass
from datetime import datetime

type Hourly = tuple[float, ...]
"""24 values in W, one for each hour of the day."""

MOST_W = 50_000.0
"""More does not fit into the inverter's registers."""

# Invented profiles of a small house on a grey day.
_LOAD: Hourly = (
    *(260.0, 240.0, 230.0, 230.0, 240.0, 280.0, 460.0, 780.0, 640.0, 480.0, 420.0, 430.0),
    *(560.0, 470.0, 420.0, 450.0, 620.0, 980.0, 1240.0, 1060.0, 820.0, 640.0, 450.0, 320.0),
)
_SOLAR: Hourly = (
    *(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 40.0, 260.0, 620.0, 940.0, 1180.0),
    *(1240.0, 1080.0, 720.0, 320.0, 50.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0),
)


@dataclass(frozen=True, kw_only=True, slots=True)
class House:
    """Load and solar power in W."""

    load: Hourly = _LOAD
    solar: Hourly = _SOLAR

    def at(self, local: datetime) -> tuple[float, float]:
        """Return the load and solar power in W at a local time."""
        return self.load[local.hour], self.solar[local.hour]

    def changed(self, *, load: Hourly | None, solar: Hourly | None) -> House:
        """Return the same house with other profiles; None leaves one as it is."""
        return House(load=load or self.load, solar=solar or self.solar)


def hourly(watts: float | list[float]) -> Hourly:
    """Return 24 values from one or from 24. Raises ValueError."""
    values = [float(value) for value in watts] if isinstance(watts, list) else [float(watts)] * 24
    if len(values) != 24 or not all(0 <= value <= MOST_W for value in values):
        raise ValueError(f"give one number of watts, or a list of 24, from 0 to {MOST_W:.0f}")
    return tuple(values)
