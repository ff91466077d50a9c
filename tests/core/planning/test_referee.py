"""Plans on certain input against the least cost that a linear programme finds (HiGHS through scipy.optimize.linprog)."""

from collections.abc import Sequence
from datetime import UTC, datetime, time, timedelta

import numpy as np
import pytest

from custom_components.chargehand.core.planning import (
    Band,
    Battery,
    DatedPrice,
    Horizon,
    Limits,
    Prices,
    Tariff,
    dated_prices,
    given_load,
    given_solar,
    joint,
    make_plan,
    tariff_prices,
)

from .given import EVENING, NIGHT_RATE
from .referee import Days, least_cost, played

NIGHTS = 4
BATTERY = Battery(capacity_kwh=10, charge_kw=2.5, discharge_kw=2.5)
"""The figures below are measured with this one."""

TARIFFS = {
    "night rate": NIGHT_RATE,
    "two cheap times": Tariff(
        bands=(
            Band(start=time(1), end=time(5), buy=0.12),
            Band(start=time(12), end=time(15), buy=0.14),
            Band(start=time(17), end=time(20), buy=0.42),
        ),
        buy=0.29,
        sell=0.05,
    ),
    "expensive evening": Tariff(bands=(Band(start=time(16), end=time(21), buy=0.45),), buy=0.25),
    "flat": Tariff(buy=0.30, sell=0.08),
}


def half_hourly(horizon: Horizon) -> Prices:
    """Invented prices with a valley at night and a lower one at noon, the same every day, no two half-hours alike."""
    rows = []
    for start in horizon.starts:
        hour = start.hour + start.minute / 60
        buy = (
            0.27
            - 0.10 * np.exp(-(((hour - 3) / 2.5) ** 2))
            - 0.13 * np.exp(-(((hour - 13) / 2) ** 2))
            + 0.15 * np.exp(-(((hour - 18.5) / 1.5) ** 2))
            + 0.004 * np.sin(7 * hour)
        )
        end = start.astimezone(UTC) + timedelta(minutes=30)
        rows.append(DatedPrice(start=start, end=end, buy=float(buy), sell=0.04))
    return dated_prices(rows, horizon)


def prices_of(name: str, horizon: Horizon) -> Prices:
    """Prices by the name of a case."""
    return half_hourly(horizon) if name == "half-hourly" else tariff_prices(TARIFFS[name], horizon)


def both_costs(name: str, battery: Battery, *, load: float, solar: float) -> tuple[float, float]:
    """Cost of some nights planned one after the other, and the least there is that ends with as much stored."""
    return costs_and_bill(name, battery, load=load, solar=solar)[:2]


def costs_and_bill(
    name: str, battery: Battery, *, load: float, solar: float, level: float = 30.0
) -> tuple[float, float, float]:
    """The same, and what the house's lack costs without a battery."""
    stored = begun = battery.energy(level)
    total = 0.0
    parts: list[Days] = []
    start = EVENING
    for _ in range(NIGHTS):
        horizon = Horizon(start=start)
        prices = prices_of(name, horizon)
        scenarios = joint(given_load(load, horizon), given_solar(solar, horizon))
        plan = make_plan(battery, battery.level(stored), prices, scenarios)
        day = slice(0, horizon.first_day)
        parts.append(
            Days(
                hours=0.5,
                starts=horizon.starts[day],
                buy=prices.buy[day],
                sell=prices.sell[day],
                load=scenarios.load[0, day],
                solar=scenarios.solar[0, day],
            )
        )
        cost, stored = played(battery, parts[-1], stored, plan.windows)
        total += cost
        start = horizon.at(horizon.first_day)
    whole = joined(parts)
    bill = float(whole.buy @ np.maximum(whole.load - whole.solar, 0))
    return total, least_cost(battery, whole, begun, stored), bill


def joined(parts: Sequence[Days]) -> Days:
    """Days that follow each other as one."""
    return Days(
        hours=0.5,
        starts=tuple(at for part in parts for at in part.starts),
        buy=np.concatenate([part.buy for part in parts]),
        sell=np.concatenate([part.sell for part in parts]),
        load=np.concatenate([part.load for part in parts]),
        solar=np.concatenate([part.solar for part in parts]),
    )


@pytest.mark.parametrize(("load", "solar"), [(8.0, 0.0), (12.0, 3.0), (16.0, 1.0)])
@pytest.mark.parametrize("name", [*TARIFFS, "half-hourly"])
def test_cost_is_within_half_a_hundredth_of_the_least_there_is(name: str, load: float, solar: float) -> None:
    """Measured: 0.22 % at most, with half-hourly prices; 0.13 % with the expensive evening; nothing with the others."""
    total, least = both_costs(name, BATTERY, load=load, solar=solar)
    assert least - 1e-6 <= total <= least + 0.005 * abs(least)


@pytest.mark.parametrize("name", [*TARIFFS, "half-hourly"])
def test_sunny_days_cost_no_more_than_the_least_and_a_thousandth_of_the_bill(name: str) -> None:
    """What is sold nearly pays what is bought, so the least cost is no base: 1 % of -0.21 is 0.002 for four days.

    The base is what the house lacks by day and night, bought without a battery: a thousandth of it is 0.2 cents a day.
    """
    total, least, bill = costs_and_bill(name, BATTERY, load=9.0, solar=14.0)
    assert least - 1e-6 <= total <= least + 0.001 * bill


@pytest.mark.parametrize(
    "battery",
    [
        Battery(capacity_kwh=14, charge_kw=1.6, discharge_kw=3, reserve_level=20),
        Battery(capacity_kwh=5, charge_kw=3, discharge_kw=2, wear=0.06, charge_efficiency=0.9),
        Battery(capacity_kwh=10, charge_kw=3, discharge_kw=3, taper_from=75, taper_to=0.1),
    ],
    ids=["slow", "worn", "tapered"],
)
@pytest.mark.parametrize("name", ["night rate", "half-hourly"])
def test_other_batteries_are_as_near_to_the_least(name: str, battery: Battery) -> None:
    total, least = both_costs(name, battery, load=13.0, solar=4.0)
    assert least - 1e-6 <= total <= least + 0.01 * abs(least)


def test_referee_finds_a_battery_left_alone_to_be_expensive() -> None:
    """The referee would notice: the same nights without windows cost a tenth more at least."""
    horizon = Horizon(start=datetime(2026, 1, 14, 20, tzinfo=EVENING.tzinfo))
    prices = tariff_prices(NIGHT_RATE, horizon)
    load = given_load(12.0, horizon).kwh[0]
    days = Days(hours=0.5, starts=horizon.starts, buy=prices.buy, sell=prices.sell, load=load, solar=0 * load)
    cost, stored = played(BATTERY, days, 3.0, ())
    assert cost > 1.1 * least_cost(BATTERY, days, 3.0, stored)


def noisy(horizon: Horizon, noise: float, seed: int) -> Prices:
    """The half-hourly prices, each half hour of each day off by chance."""
    smooth = half_hourly(horizon)
    # The same half hour has the same price in each night's horizon.
    off = [np.random.default_rng((seed, int(start.timestamp()))).normal(0, noise) for start in horizon.starts]
    return Prices(horizon=horizon, buy=smooth.buy + np.array(off), sell=smooth.sell)


def test_noisy_prices_cost_no_more_than_a_hundredth_above_the_least() -> None:
    """Half hours that are off by 0.02 from their neighbours, three windows: within 1 % of a programme that picks each half hour by itself.

    Measured over six seeds: 0.4 % in the mean, 0.6 % at most. With 0.03 1.0 % and 1.6 %, as three windows are too few for it: with ten
    0.4 %.
    """
    for seed in range(3):
        stored = begun = BATTERY.energy(30)
        total, start, parts = 0.0, EVENING, list[Days]()
        for _ in range(NIGHTS):
            horizon = Horizon(start=start)
            prices = noisy(horizon, 0.02, seed)
            scenarios = joint(given_load(12.0, horizon), given_solar(3.0, horizon))
            plan = make_plan(BATTERY, BATTERY.level(stored), prices, scenarios, Limits(windows=3))
            day = slice(0, horizon.first_day)
            parts.append(
                Days(
                    hours=0.5,
                    starts=horizon.starts[day],
                    buy=prices.buy[day],
                    sell=prices.sell[day],
                    load=scenarios.load[0, day],
                    solar=scenarios.solar[0, day],
                )
            )
            cost, stored = played(BATTERY, parts[-1], stored, plan.windows)
            total, start = total + cost, horizon.at(horizon.first_day)
        least = least_cost(BATTERY, joined(parts), begun, stored)
        assert least - 1e-6 <= total <= 1.01 * least
