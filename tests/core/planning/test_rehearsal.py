"""A schedule rehearsed, against a battery played step by step that shares no code with the planner, and against numpy's quantiles."""

from datetime import datetime, timedelta

import numpy as np
import pytest

from custom_components.chargehand.core.planning import (
    BadBattery,
    BadHorizon,
    Battery,
    Horizon,
    PlannedWindow,
    Rehearsal,
    RehearsedWindow,
    Scenarios,
)

from .given import BATTERY, EVENING, night_prices
from .referee import Days, Floats, steps_of

LOSSLESS = Battery(
    capacity_kwh=10, charge_kw=3, discharge_kw=3, charge_efficiency=1, discharge_efficiency=1, taper_from=100
)
HOURS = 36


def at(hours: float) -> datetime:
    """A moment so long after the horizon's start."""
    return EVENING + timedelta(hours=hours)


def scenarios(horizon: Horizon, count: int, *, seed: int = 3) -> Scenarios:
    """A house with some sun on both days, invented, of unequal weights."""
    chance = np.random.default_rng(seed)
    weights = chance.random(count)
    share = horizon.step_minutes / 60
    sun = np.array([max(0.0, 3 - abs(start.hour - 12) / 2) for start in horizon.starts]) * share
    return Scenarios(
        weights=weights / weights.sum(),
        load=chance.random((count, horizon.steps)) * share,
        solar=sun * chance.random((count, 1)),
    )


def flat(horizon: Horizon, kw: float) -> Scenarios:
    """A certain house that draws the same all the time."""
    kwh = np.full((1, horizon.steps), kw * horizon.step_hours)
    return Scenarios(weights=np.ones(1), load=kwh, solar=np.zeros_like(kwh))


@pytest.mark.parametrize("step_minutes", [5, 15, 30])
@pytest.mark.parametrize("level", [0.0, 8.0, 55.0, 97.0, 100.0])
def test_charge_windows_go_as_a_battery_that_is_played_step_by_step(step_minutes: int, level: float) -> None:
    horizon = Horizon(start=EVENING, hours=HOURS, step_minutes=step_minutes)
    house, prices = scenarios(horizon, 7), night_prices(horizon)
    windows = [
        RehearsedWindow(start=at(5), end=at(8.5), power_kw=2.2, stop_level=80),
        RehearsedWindow(start=at(17), end=at(19), power_kw=3.0, stop_level=40),
        RehearsedWindow(start=at(29), end=at(32.5), power_kw=2.2, stop_level=80),
    ]
    played = [
        PlannedWindow(start=one.start, end=one.end, power_kw=one.power_kw, stop_level=int(one.stop_level))
        for one in windows
    ]
    rehearsal = Rehearsal(BATTERY, level, prices, house)
    found, without = rehearsal.under(windows), rehearsal.under([])

    def course(planned: list[PlannedWindow], load: Floats, solar: Floats) -> Floats:
        days = Days(
            hours=step_minutes / 60, starts=horizon.starts, buy=prices.buy, sell=prices.sell, load=load, solar=solar
        )
        return np.array([one.stored for one in steps_of(BATTERY, days, BATTERY.energy(level), planned)]) * 10

    courses = [course(played, *one) for one in zip(house.load, house.solar, strict=True)]
    assert found.level == pytest.approx(house.weights @ np.array(courses), abs=1e-6)
    assert without.saving == without.left_kwh == without.left_gain == without.wear_cost == 0
    assert without.grid_charge_kwh == pytest.approx(0, abs=1e-9)


def test_the_spread_is_numpys_weighted_quantiles() -> None:
    horizon = Horizon(start=EVENING, hours=HOURS)
    house = scenarios(horizon, 23)
    rehearsal = Rehearsal(BATTERY, 70, night_prices(horizon), house)
    found = rehearsal.under([])
    alone = [
        Rehearsal(
            BATTERY,
            70,
            night_prices(horizon),
            Scenarios(weights=np.ones(1), load=house.load[one : one + 1], solar=house.solar[one : one + 1]),
        )
        .under([])
        .level
        for one in range(23)
    ]
    low, high = np.quantile(np.array(alone), [0.1, 0.9], axis=0, weights=house.weights, method="inverted_cdf")
    assert found.low == pytest.approx(low)
    assert found.high == pytest.approx(high)
    assert (found.high > found.low + 1).any()


def test_a_discharge_window_takes_out_its_power_down_to_its_level() -> None:
    """By hand: from 90 % at 2 kW for two hours are 50 %, then the stop level; the house's 0.5 kW come out of it, the rest is sold."""
    horizon = Horizon(start=EVENING, hours=24)
    prices = night_prices(horizon)
    rehearsal = Rehearsal(LOSSLESS, 90, prices, flat(horizon, 0.5))
    window = RehearsedWindow(start=at(0), end=at(3), power_kw=2, stop_level=50, discharges=True)
    found = rehearsal.under([window])
    assert found.level[:6] == pytest.approx([80, 70, 60, 50, 50, 50])
    # The window rests at its level for an hour, in which the house buys; afterwards the house lives on the battery again.
    assert found.level[6] == pytest.approx(47.5)
    sold, bought = 2 * (2 - 0.5) * 0.06, 1 * 0.5 * 0.31
    after = rehearsal.under([]).cost
    assert found.grid_charge_kwh == 0
    first = Rehearsal(LOSSLESS, 50, prices, flat(horizon, 0.5))
    # From 23:00 on it is a battery at 50 % with 21 hours to come: 8 h of the house, then the grid.
    rest = sum(0.25 * price for price in prices.buy[6 + 16 :])
    assert found.cost == pytest.approx(bought - sold + rest)
    assert found.cost_without == pytest.approx(after)
    assert first.under([]).level[0] == pytest.approx(47.5)


def test_what_is_bought_in_a_window_is_counted_at_the_meter() -> None:
    """By hand: 3 kWh into the cells at 94 % are 3.19 kWh at the meter, besides what the house draws."""
    horizon = Horizon(start=EVENING, hours=24)
    rehearsal = Rehearsal(BATTERY, 10, night_prices(horizon), flat(horizon, 0.4))
    found = rehearsal.under([RehearsedWindow(start=at(5), end=at(7), power_kw=1.5, stop_level=95)])
    assert found.grid_charge_kwh == pytest.approx(3 / 0.94)


def test_edges_within_a_step_go_to_its_nearer_end() -> None:
    horizon = Horizon(start=EVENING, hours=24)
    rehearsal = Rehearsal(LOSSLESS, 10, night_prices(horizon), flat(horizon, 0))

    def level(start: float, end: float) -> float:
        window = RehearsedWindow(start=at(start), end=at(end), power_kw=2, stop_level=100)
        return float(rehearsal.under([window]).level[-1])

    assert level(5.2, 6.3) == level(5, 6.5) == pytest.approx(40)
    assert level(-3, 1) == pytest.approx(30), "one that acts already"
    assert level(23, 30) == pytest.approx(30), "one that goes on beyond the horizon"
    assert level(40, 44) == pytest.approx(10)


def test_two_windows_at_one_time_and_a_level_that_is_none_are_refused() -> None:
    horizon = Horizon(start=EVENING, hours=24)
    house = flat(horizon, 0.4)
    rehearsal = Rehearsal(BATTERY, 10, night_prices(horizon), house)
    window = RehearsedWindow(start=at(5), end=at(7), power_kw=1.5, stop_level=95)
    with pytest.raises(BadHorizon, match="two windows act at 02:30"):
        rehearsal.under([window, RehearsedWindow(start=at(6.5), end=at(8), power_kw=1.5, stop_level=95)])
    with pytest.raises(BadBattery, match="give 0 to 100"):
        Rehearsal(BATTERY, float("nan"), night_prices(horizon), house)
