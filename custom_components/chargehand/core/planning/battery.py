"""The battery as a plan sees it."""

from dataclasses import dataclass, fields
from math import exp, isfinite

from .faults import BadBattery


@dataclass(frozen=True, kw_only=True, slots=True)
class Battery:
    """Energy is what is stored, in kWh; powers are at the battery's terminals, in kW; levels in %.

    Storing 1 kWh takes 1 / `charge_efficiency` from grid or solar; taking 1 kWh out gives the house `discharge_efficiency`.
    Raises BadBattery.
    """

    capacity_kwh: float
    """Stored between 0 % and 100 %."""
    charge_kw: float
    discharge_kw: float
    charge_efficiency: float = 0.94
    discharge_efficiency: float = 0.94
    reserve_level: float = 10.0
    """The battery does not serve the house below it."""
    highest_level: float = 100.0
    """No window of a plan charges above it. Solar power may: the inverter knows no such level outside a window."""
    taper_from: float = 90.0
    """From here to 100 % the charge power falls linearly."""
    taper_to: float = 0.05
    """Share of `charge_kw` that is left at 100 %."""
    wear: float = 0.0
    """Price of a kWh that reaches the house through the battery."""

    def __post_init__(self) -> None:
        """Keep all figures as floats; raise BadBattery for some that make no battery."""
        for field in fields(self):
            # Arrays made from whole numbers would take no fractions.
            object.__setattr__(self, field.name, float(getattr(self, field.name)))
            if not isfinite(getattr(self, field.name)):
                raise BadBattery(f"{field.name} is not a number: give one")
        for name in ("capacity_kwh", "charge_kw", "discharge_kw"):
            if getattr(self, name) <= 0:
                raise BadBattery(f"{name} is {getattr(self, name):g}: give a number above 0")
        for name in ("charge_efficiency", "discharge_efficiency"):
            if not 0.3 <= getattr(self, name) <= 1:
                raise BadBattery(f"{name} is {getattr(self, name):g}: give a share from 0.3 to 1, 0.94 for 94 %")
        if not 0 <= self.reserve_level < self.highest_level <= 100:
            raise BadBattery(
                f"reserve_level {self.reserve_level:g} % and highest_level {self.highest_level:g} %: "
                "the reserve must be the lower one, both from 0 to 100",
                "levels",
                reserve=f"{self.reserve_level:g}",
                highest=f"{self.highest_level:g}",
            )
        if not 0 <= self.taper_from <= 100 or not 0 <= self.taper_to <= 1:
            raise BadBattery("taper_from is a level from 0 to 100 %, taper_to a share from 0 to 1: give such ones")
        if self.wear < 0:
            raise BadBattery(f"wear is {self.wear:g}: give 0 or more per kWh")

    def energy(self, level: float) -> float:
        """Return the kWh stored at a level in %."""
        return level / 100 * self.capacity_kwh

    def level(self, energy: float) -> float:
        """Level in % of stored kWh."""
        return 100 * energy / self.capacity_kwh

    def taper(self, hours: float) -> tuple[float, float]:
        """Return `(a, b)`: with E kWh stored, no more than a - b E kWh go in within `hours`.

        Above `taper_from` the power is linear in E, so E nears the level where it would be 0 exponentially: exact there, and a bound
        that is up to a tenth too high for a step in which the taper begins.
        """
        if self.taper_from >= 100:
            return self.capacity_kwh, 1.0
        span = self.energy(100 - self.taper_from)
        slope = self.charge_kw * (1 - self.taper_to) / span
        if slope == 0:
            return self.capacity_kwh, 1.0
        share = (1 - exp(-slope * hours)) / slope
        return share * (self.charge_kw + slope * self.energy(self.taper_from)), share * slope

    def worth_it(self, buy_now: float, buy_later: float) -> bool:
        """Whether a kWh bought now costs less out of the battery than one bought later."""
        return buy_now / (self.charge_efficiency * self.discharge_efficiency) + self.wear < buy_later
