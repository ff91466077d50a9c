"""What a rehearsed schedule saves: against the plan of the same windows, a battery played step by step, and the least cost of the days after."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta
from itertools import product

import numpy as np
import pytest

from custom_components.chargehand.core.planning import (
    Battery,
    Horizon,
    PlannedWindow,
    Prices,
    Rehearsal,
    Rehearsed,
    RehearsedWindow,
    Scenarios,
    given_load,
    given_solar,
    joint,
    make_plan,
)

from .given import BATTERY, EVENING
from .referee import Days, Floats, least_cost, played
from .test_referee import prices_of

LEVEL = 30.0
NAMES = ["night rate", "two cheap times", "half-hourly"]
AS_JUDGED = {("half-hourly", 36): 0.03, ("half-hourly", 48): 0.13}
"""Where the prices are of half hours, later nights are planned coarsely, which the programme is not. What is left in the evening, where two days
end, is worth 1.49 to the planner and 1.37 to the programme. Measured: 0.022 and 0.125; with the other prices 1e-14.
"""
NO_BETTER = 0.01
"""A hundredth of a kWh for each window, and of what is left, is what the planner leaves alone."""
LATER_DAYS = 3
"""Played beyond the horizon, until what was left is used up."""


def prices(name: str, horizon: Horizon) -> Prices:
    """The prices of a name, those of half hours also in shorter steps."""
    coarse = prices_of(name, Horizon(start=horizon.start, hours=horizon.hours))
    times = 30 // horizon.step_minutes
    return Prices(horizon=horizon, buy=np.repeat(coarse.buy, times), sell=np.repeat(coarse.sell, times))


def house(horizon: Horizon, load: float, solar: float) -> Scenarios:
    """A certain house of so many kWh a day under a roof of so many."""
    return joint(given_load(load, horizon), given_solar(solar, horizon))


def seeded(horizon: Horizon, seed: int) -> Scenarios:
    """A house of nine scenarios, invented, of unequal weights; every other one has a roof."""
    chance = np.random.default_rng(seed)
    weights, certain = chance.random(9), house(horizon, chance.uniform(6, 16), 7.0 * (seed % 2))
    return Scenarios(
        weights=weights / weights.sum(),
        load=certain.load * chance.uniform(0.5, 1.5, (9, horizon.steps)),
        solar=certain.solar * chance.uniform(0.2, 1.8, (9, 1)),
    )


def daily(windows: Sequence[PlannedWindow]) -> list[RehearsedWindow]:
    """Windows as an inverter has them: every day again."""
    return [
        RehearsedWindow(
            start=one.start + timedelta(days=day),
            end=one.end + timedelta(days=day),
            power_kw=one.power_kw,
            stop_level=one.stop_level,
        )
        for one in windows
        for day in (0, 1)
    ]


def gain(found: Rehearsed) -> float:
    """What windows bring: less to pay, and what is left is worth more."""
    return found.saving + found.left_gain


@pytest.mark.parametrize("hours", [36, 48])
@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("seed", range(4))
def test_windows_of_a_plan_save_what_the_plan_says(name: str, hours: float, seed: int) -> None:
    """In steps of the same length the two are the same number, though the windows act again in the next night."""
    horizon = Horizon(start=EVENING, hours=hours)
    known, battery = seeded(horizon, seed), replace(BATTERY, wear=0.02 * (seed > 1))
    plan = make_plan(battery, LEVEL, prices(name, horizon), known)
    assert plan.windows
    found = Rehearsal(battery, LEVEL, prices(name, horizon), known).under(daily(plan.windows))
    assert found.saving == pytest.approx(plan.saving, abs=1e-9)
    assert (found.cost, found.cost_without) == pytest.approx((plan.expected_cost, plan.cost_without), abs=1e-9)
    assert (found.left_gain, found.wear_cost) == pytest.approx((plan.left_gain, plan.wear_cost), abs=1e-9)
    assert found.grid_charge_kwh == pytest.approx(plan.grid_charge_kwh, abs=1e-9)


@pytest.mark.parametrize("step_minutes", [5, 15])
@pytest.mark.parametrize("hours", [36, 48])
@pytest.mark.parametrize(("load", "solar"), [(12.0, 0.0), (9.0, 8.0)])
@pytest.mark.parametrize("name", NAMES)
def test_shorter_steps_than_the_plans_say_nearly_the_same(
    name: str, load: float, solar: float, hours: float, step_minutes: int
) -> None:
    """Within 0.02. Sun and house make up for each other within half an hour of the plan, and in less within shorter steps.

    Measured: 0.019 at most under a roof, 0.005 without one, where only the later nights' windows begin at other times.
    """
    horizon, fine = Horizon(start=EVENING, hours=hours), Horizon(start=EVENING, hours=hours, step_minutes=step_minutes)
    plan = make_plan(BATTERY, LEVEL, prices(name, horizon), house(horizon, load, solar))
    rehearsal = Rehearsal(BATTERY, LEVEL, prices(name, fine), house(fine, load, solar))
    found = rehearsal.under(daily(plan.windows))
    assert found.saving == pytest.approx(plan.saving, abs=0.02 if solar else 0.006)


def span(begin: float, hours: float, stop: int) -> PlannedWindow:
    """A window at full power, so many hours after the horizon's start."""
    start = EVENING + timedelta(hours=begin)
    return PlannedWindow(start=start, end=start + timedelta(hours=hours), power_kw=BATTERY.charge_kw, stop_level=stop)


BRUTE = [(), *((span(*one),) for one in product((1.0, 4.0, 5.0, 7.0, 16.0), (1.0, 2.5, 4.0), (30, 60, 80, 100)))]


@pytest.mark.parametrize("step_minutes", [5, 15, 30])
@pytest.mark.parametrize("wear", [0.0, 0.05])
def test_the_coming_day_costs_what_the_referee_pays(step_minutes: int, wear: float) -> None:
    """A horizon of one day has no later night: bill and wear are those of the battery played step by step."""
    horizon, battery = Horizon(start=EVENING, hours=24, step_minutes=step_minutes), replace(BATTERY, wear=wear)
    known, cost = house(horizon, 9.0, 8.0), prices("half-hourly", horizon)
    rehearsal = Rehearsal(battery, LEVEL, cost, known)
    for windows in BRUTE[::7]:
        found = rehearsal.under(daily(windows))
        day = _days(horizon, cost, known)
        paid, left = played(battery, day, battery.energy(LEVEL), windows)
        paid_without, left_without = played(battery, day, battery.energy(LEVEL), ())
        assert found.saving - found.wear_cost == pytest.approx(paid_without - paid, abs=1e-9)
        assert found.left_kwh == pytest.approx(left - left_without, abs=1e-9)


@pytest.mark.parametrize("hours", [36, 48])
@pytest.mark.parametrize("name", NAMES)
def test_windows_are_ranked_as_by_the_least_cost_of_the_days_after(name: str, hours: float) -> None:
    """The coming day is played, and the least cost of the days after it is the linear programme's, from what is left then.

    By both, none of 61 schedules brings more than the plan's.
    """
    horizon = Horizon(start=EVENING, hours=hours)
    known, cost = house(horizon, 12.0, 0.0), prices(name, horizon)
    plan = make_plan(BATTERY, LEVEL, cost, known)
    rehearsal = Rehearsal(BATTERY, LEVEL, cost, known)
    schedules = [plan.windows, *BRUTE]
    mine = np.array([gain(rehearsal.under(daily(one))) for one in schedules])
    whole = np.array([_whole_cost(BATTERY, horizon, cost, known, one) for one in schedules])
    judged = whole[1] - whole
    assert mine == pytest.approx(judged, abs=AS_JUDGED.get((name, hours), 1e-9))
    assert judged[0] > 0.5
    assert mine[0] >= mine.max() - NO_BETTER
    assert judged[0] >= judged.max() - NO_BETTER


def _whole_cost(
    battery: Battery, horizon: Horizon, cost: Prices, known: Scenarios, windows: Sequence[PlannedWindow]
) -> float:
    """Cost of the coming day under windows and of the days after it at best, to an empty battery."""
    whole, day = _days(horizon, cost, known), round(24 / horizon.step_hours)
    paid, left = played(battery, _part(whole, np.arange(day)), battery.energy(LEVEL), windows)
    last = np.arange(horizon.steps - day, horizon.steps)
    after = _part(whole, np.concatenate((np.arange(day, horizon.steps), np.tile(last, LATER_DAYS))))
    return paid + least_cost(battery, after, left, battery.energy(battery.reserve_level))


def _days(horizon: Horizon, cost: Prices, known: Scenarios) -> Days:
    return Days(
        hours=horizon.step_hours,
        starts=horizon.starts,
        buy=cost.buy,
        sell=cost.sell,
        load=known.load[0],
        solar=known.solar[0],
    )


def _part(days: Days, steps: np.ndarray[tuple[int], np.dtype[np.int64]]) -> Days:
    def of(values: Floats) -> Floats:
        part: Floats = values[steps]
        return part

    return Days(
        hours=days.hours,
        starts=tuple(days.starts[step] for step in steps),
        buy=of(days.buy),
        sell=of(days.sell),
        load=of(days.load),
        solar=of(days.solar),
    )
