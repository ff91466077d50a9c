"""The houses of the yearly measurement. All are invented but what SIMBENCH.md names; prices per kWh."""

from custom_components.chargehand.core.planning import Band, Tariff
from tests.benchmarks.houses.house import HalfHourly, House, Profile


def _night(buy: float, day: float, sell: float, begin: int = 60, end: int = 300) -> Tariff:
    """A cheap time from `begin` to `end` (minutes of the day)."""
    return Tariff(bands=(Band(start=begin, end=end, buy=buy),), buy=day, sell=sell)


_NIGHT = _night(0.11, 0.31, 0.06)
_TWO_TIMES = Tariff(
    bands=(Band(start=2 * 60, end=6 * 60, buy=0.15), Band(start=13 * 60, end=15 * 60, buy=0.18)), buy=0.32, sell=0.06
)
_FLAT = Tariff(buy=0.29, sell=0.07)
"""What a house with prices of every half hour has in its tariff beside them, for hours whose price is not published."""

STREET = (
    House(name="reference", load_kwh=3800, solar_kwp=4, capacity_kwh=9, power_kw=3, tariff=_NIGHT),
    House(name="no roof", load_kwh=3800, solar_kwp=0, capacity_kwh=9, power_kw=3, tariff=_NIGHT),
    House(
        name="P25, two cheap times",
        load_kwh=4500,
        solar_kwp=6,
        capacity_kwh=9,
        power_kw=3,
        tariff=_TWO_TIMES,
        profile=Profile.P25,
    ),
    House(
        name="S25, expensive night",
        load_kwh=4200,
        solar_kwp=5,
        capacity_kwh=11,
        power_kw=3.5,
        tariff=_night(0.20, 0.32, 0.08, 22 * 60, 6 * 60),
        profile=Profile.S25,
    ),
    House(
        name="high feed-in",
        load_kwh=3500,
        solar_kwp=5,
        capacity_kwh=8,
        power_kw=3,
        tariff=_night(0.16, 0.30, 0.12),
    ),
    House(
        name="small house, big roof",
        load_kwh=2200,
        solar_kwp=8,
        capacity_kwh=5,
        power_kw=2.5,
        tariff=_NIGHT,
        windows=1,
    ),
    House(
        name="heat pump",
        load_kwh=3000,
        solar_kwp=0,
        capacity_kwh=12,
        power_kw=4,
        tariff=_night(0.15, 0.31, 0.0),
        heat_kwh=12000,
    ),
    House(
        name="heat pump, roof",
        load_kwh=3500,
        solar_kwp=7,
        capacity_kwh=12,
        power_kw=4,
        tariff=_TWO_TIMES,
        heat_kwh=10000,
    ),
    House(name="car", load_kwh=2500, solar_kwp=5, capacity_kwh=9, power_kw=3, tariff=_NIGHT, car=True),
    House(
        name="holidays",
        load_kwh=4000,
        solar_kwp=4,
        capacity_kwh=9,
        power_kw=3,
        tariff=_NIGHT,
        away=((40, 47), (95, 109), (205, 226), (290, 297), (355, 365)),
    ),
    House(
        name="new tenant",
        load_kwh=2600,
        solar_kwp=4,
        capacity_kwh=9,
        power_kw=3,
        tariff=_NIGHT,
        tenants=((60, 2.0), (270, 0.45)),
    ),
    House(
        name="measured A",
        load_kwh=4200,
        solar_kwp=4.5,
        capacity_kwh=9,
        power_kw=3,
        tariff=_NIGHT,
        profile=Profile.HOUSEHOLD_A,
        measured_solar=True,
    ),
    House(
        name="measured L",
        load_kwh=2800,
        solar_kwp=3.5,
        capacity_kwh=7,
        power_kw=2.5,
        tariff=_TWO_TIMES,
        profile=Profile.HOUSEHOLD_L,
        measured_solar=True,
    ),
    House(
        name="half-hourly, no roof",
        load_kwh=4000,
        solar_kwp=0,
        capacity_kwh=9,
        power_kw=3,
        tariff=_FLAT,
        half_hourly=HalfHourly(),
    ),
    House(
        name="half-hourly, heat pump",
        load_kwh=3000,
        solar_kwp=0,
        capacity_kwh=12,
        power_kw=4,
        tariff=_FLAT,
        half_hourly=HalfHourly(noise=0.025),
        heat_kwh=12000,
    ),
    House(
        name="half-hourly, roof",
        load_kwh=3800,
        solar_kwp=4,
        capacity_kwh=9,
        power_kw=3,
        tariff=_FLAT,
        half_hourly=HalfHourly(),
    ),
    House(
        name="half-hourly, big roof",
        load_kwh=4500,
        solar_kwp=9,
        capacity_kwh=13,
        power_kw=4,
        tariff=_FLAT,
        half_hourly=HalfHourly(noise=0.02),
        profile=Profile.P25,
    ),
    House(
        name="below zero, roof",
        load_kwh=4200,
        solar_kwp=5,
        capacity_kwh=10,
        power_kw=4,
        tariff=Tariff(buy=0.19, sell=0.05),
        half_hourly=HalfHourly(fee=0.05, sell_market=True),
        profile=Profile.S25,
    ),
    House(
        name="measured B, half-hourly",
        load_kwh=3600,
        solar_kwp=4,
        capacity_kwh=9,
        power_kw=3,
        tariff=_FLAT,
        half_hourly=HalfHourly(),
        profile=Profile.HOUSEHOLD_B,
        measured_solar=True,
    ),
)
