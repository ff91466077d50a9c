"""The battery: 16 cells of lithium iron phosphate, two packs, 10 kWh.

Curves are common practice, no source: flat between 20 and 90 %, steep at the ends, no charging below 0 degC, little below
10 degC, none above 50 degC, the charge current tapering to nothing towards full.
"""

import math
from dataclasses import dataclass
from itertools import pairwise

CAPACITY_WH = 10_000.0
CELLS = 16
LOWEST_LEVEL = 5.0
HIGHEST_LEVEL = 100.0
RESISTANCE_OHM = 0.010

_HEATING_K_PER_W = 0.3
_SETTLING_S = 4 * 3600.0

type Curve = tuple[tuple[float, float], ...]
"""Points (x, y) by rising x, straight lines between them, level beyond its ends."""

_OPEN_VOLTS_BY_LEVEL: Curve = (
    *((0, 44.0), (5, 48.0), (10, 50.0), (20, 51.2), (50, 52.4)),
    *((80, 53.2), (95, 53.9), (98, 54.8), (100, 56.8)),
)
_CHARGE_A_BY_CELSIUS: Curve = ((0, 0.0), (0.1, 4.0), (10, 40.0), (12, 100.0), (45, 100.0), (50, 0.0))
_CHARGE_A_BY_LEVEL: Curve = ((90, 100.0), (95, 40.0), (99.9, 3.0), (100, 0.0))
_DISCHARGE_A_BY_CELSIUS: Curve = ((-20, 0.0), (0, 100.0), (50, 100.0), (60, 0.0))
_DISCHARGE_A_BY_LEVEL: Curve = ((LOWEST_LEVEL, 0.0), (8, 60.0), (12, 100.0))


@dataclass(kw_only=True, slots=True)
class Battery:
    """State of the battery: stored energy in Wh, temperatures in degC."""

    stored_wh: float = 0.46 * CAPACITY_WH
    celsius: float = 18.5
    ambient: float = 18.0

    @property
    def level(self) -> float:
        """State of charge in %, 0...100."""
        return 100 * self.stored_wh / CAPACITY_WH

    @property
    def charge_limit(self) -> float:
        """What the battery's own management allows into it, in A."""
        return min(_along(_CHARGE_A_BY_CELSIUS, self.celsius), _along(_CHARGE_A_BY_LEVEL, self.level))

    @property
    def discharge_limit(self) -> float:
        """What the battery's own management allows out of it, in A."""
        return min(_along(_DISCHARGE_A_BY_CELSIUS, self.celsius), _along(_DISCHARGE_A_BY_LEVEL, self.level))

    def volts(self, amps: float) -> float:
        """Return the terminal voltage at a current; positive = charging."""
        return _along(_OPEN_VOLTS_BY_LEVEL, self.level) + amps * RESISTANCE_OHM

    def amps(self, watts: float) -> float:
        """Return the current that makes `watts` at the terminals; positive = charging."""
        volts = self.volts(0)
        root = math.sqrt(max(volts**2 + 4 * RESISTANCE_OHM * watts, 0.0))
        return (root - volts) / (2 * RESISTANCE_OHM)

    def run(self, watts: float, amps: float, seconds: float) -> None:
        """Take `watts` at `amps` for `seconds`."""
        self.stored_wh = min(max(self.stored_wh + watts * seconds / 3600, 0.0), CAPACITY_WH)
        resting = self.ambient + _HEATING_K_PER_W * amps**2 * RESISTANCE_OHM
        self.celsius += (resting - self.celsius) * (1 - math.exp(-seconds / _SETTLING_S))


def _along(curve: Curve, x: float) -> float:
    if x <= curve[0][0]:
        return curve[0][1]
    for (x0, y0), (x1, y1) in pairwise(curve):
        if x <= x1:
            return y0 + (y1 - y0) * (x - x0) / (x1 - x0)
    return curve[-1][1]
