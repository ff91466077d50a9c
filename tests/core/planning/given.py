"""What the planning tests plan for: an invented house at a time and place, its prices, and plans of it."""

from datetime import datetime, time
from zoneinfo import ZoneInfo

from custom_components.chargehand.core.planning import (
    Band,
    Battery,
    Horizon,
    Limits,
    Plan,
    Prices,
    Tariff,
    given_load,
    given_solar,
    joint,
    make_plan,
    tariff_prices,
)

BERLIN = ZoneInfo("Europe/Berlin")
BATTERY = Battery(capacity_kwh=10, charge_kw=3, discharge_kw=3)
EVENING = datetime(2026, 1, 14, 20, 0, tzinfo=BERLIN)
NIGHT_RATE = Tariff(bands=(Band(start=time(1), end=time(5), buy=0.11),), buy=0.31, sell=0.06)
OVER_MIDNIGHT = Tariff(bands=(Band(start=time(23, 15), end=time(3, 45), buy=0.11),), buy=0.31, sell=0.06)


def night_prices(horizon: Horizon, tariff: Tariff = NIGHT_RATE) -> Prices:
    """The two-rate tariff over a horizon."""
    return tariff_prices(tariff, horizon)


def plan_of(
    *,
    battery: Battery = BATTERY,
    level: float = 10.0,
    tariff: Tariff = NIGHT_RATE,
    load: float = 11.0,
    solar: float = 0.0,
    limits: Limits | None = None,
    start: datetime = EVENING,
    hours: float = 36,
) -> Plan:
    """The plan for a house of so many kWh a day under a roof of so many."""
    horizon = Horizon(start=start, hours=hours)
    scenarios = joint(given_load(load, horizon), given_solar(solar, horizon))
    return make_plan(battery, level, tariff_prices(tariff, horizon), scenarios, limits)
