"""A house of the yearly measurement: what it uses, its roof, its battery and its prices."""

from dataclasses import dataclass
from enum import StrEnum

from custom_components.chargehand.core.planning import BadBattery, BadForecast, Battery, Limits, Tariff, tariff_prices
from custom_components.chargehand.core.planning import Horizon as _Horizon
from tests.benchmarks.houses.calendar import BEGIN

RESERVE_LEVEL = 10.0


class Profile(StrEnum):
    """Where the shape of a load is from: profiles of BDEW (`demandlib`), or a household measured in 2016 (SIMBENCH.md)."""

    H25 = "H25"
    P25 = "P25"
    S25 = "S25"
    HOUSEHOLD_A = "household_a"
    HOUSEHOLD_B = "household_b"
    HOUSEHOLD_L = "household_l"


@dataclass(frozen=True, kw_only=True, slots=True)
class HalfHourly:
    """Prices of every half hour: a market's, and so much a kWh on top of it."""

    fee: float = 0.17
    noise: float = 0.008
    """Spread of a half hour around its neighbours."""
    sell_market: bool = False
    """What is fed in earns the market's price (never less than 0) instead of the tariff's `sell`."""


@dataclass(frozen=True, kw_only=True, slots=True)
class House:
    """kWh a year, kWp, usable kWh, kW of charge and discharge; a tariff of bands, or prices of every half hour."""

    name: str = ""
    load_kwh: float
    solar_kwp: float
    capacity_kwh: float
    power_kw: float
    tariff: Tariff
    half_hourly: HalfHourly | None = None
    profile: Profile = Profile.H25
    heat_kwh: float = 0.0
    """Heat a year that a heat pump brings; its electricity comes on top of `load_kwh`."""
    car: bool = False
    """A car is charged at home with 11 kW, on top of `load_kwh`."""
    away: tuple[tuple[int, int], ...] = ()
    """Days of the year, first and last, on which nobody is at home."""
    tenants: tuple[tuple[int, float], ...] = ()
    """From a day of the year on the house uses so many times as much."""
    measured_solar: bool = False
    """The roof is one that was measured in 2016 (SIMBENCH.md)."""
    windows: int = 3

    @property
    def battery(self) -> Battery:
        """As Chargehand knows it: efficiency and limits from the data sheet, the usual taper."""
        return Battery(
            capacity_kwh=self.capacity_kwh / 0.9,
            charge_kw=self.power_kw,
            discharge_kw=self.power_kw,
            reserve_level=RESERVE_LEVEL,
        )

    @property
    def limits(self) -> Limits:
        """What its inverter holds."""
        return Limits(windows=self.windows, step_minutes=1, lowest_stop_level=10)

    def check(self) -> None:
        """Raise PlanningFault where there is no such house."""
        if self.load_kwh < 0 or self.solar_kwp < 0:
            raise BadForecast("load_kwh and solar_kwp are energies of a year and of a roof: give 0 or more")
        if not self.capacity_kwh > 0:
            raise BadBattery(f"capacity_kwh is {self.capacity_kwh:g}: give a number above 0")
        tariff_prices(self.tariff, _Horizon(start=BEGIN))
        _ = self.battery
