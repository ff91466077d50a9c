"""Plans: the worked nights of docs/planning.md, no window where none is worth it, what an inverter can hold, and their reasons."""

import re
from dataclasses import replace
from datetime import datetime, time, timedelta

import numpy as np
import pytest

from custom_components.chargehand.core.planning import (
    BadBattery,
    BadLimits,
    Band,
    Battery,
    HeldBack,
    Horizon,
    Limits,
    Plan,
    ReasonKey,
    Scenarios,
    Tariff,
    fixed_window,
    make_plan,
    tariff_prices,
)

from .given import BATTERY, BERLIN, EVENING, NIGHT_RATE, OVER_MIDNIGHT, plan_of
from .plan_words import why

HAND = Battery(capacity_kwh=10, charge_kw=3, discharge_kw=3, taper_from=100)


def even(kwh_an_hour: float, level: float = 10.0, *, battery: Battery = HAND, limits: Limits | None = None) -> Plan:
    """The plan of a house that uses the same in every hour."""
    horizon = Horizon(start=EVENING)
    load = np.full((1, horizon.steps), kwh_an_hour / 2)
    scenarios = Scenarios(weights=np.ones(1), load=load, solar=np.zeros_like(load))
    return make_plan(battery, level, tariff_prices(NIGHT_RATE, horizon), scenarios, limits)


def test_worked_night_that_fills_the_battery() -> None:
    """By hand: 9 kWh above the reserve give 9 x 0.94 = 8.46 kWh of the 20 x 0.5 = 10 kWh that the expensive hours want: 100 %.

    The meter: 9 / 0.94 = 9.574 kWh at 0.11 = 1.053; spared 8.46 at 0.31 = 2.623; saved 1.570.
    """
    plan = even(0.5)
    assert plan.target_level == 100
    assert plan.grid_charge_kwh == pytest.approx(9 / 0.94, abs=0.001)
    assert plan.saving == pytest.approx(8.46 * 0.31 - 9 / 0.94 * 0.11, abs=0.001)
    assert (plan.reason.buy_now, plan.reason.buy_later) == (pytest.approx(0.11), pytest.approx(0.31))
    assert (plan.reason.key, plan.reason.held_back) == (ReasonKey.CHARGE, HeldBack.CAPACITY)
    last = plan.windows[-1]
    assert plan.windows[0].start >= datetime(2026, 1, 15, 1, 0, tzinfo=BERLIN)
    assert last.end == datetime(2026, 1, 15, 5, 0, tzinfo=BERLIN)
    assert why(plan.reason, "EUR") == (
        "Tomorrow likely needs 12.0 kWh, solar likely gives 0.0 kWh; charging to 100 % at 0.11 instead of 0.31 "
        "saves about 1.57 EUR; more would not fit the battery."
    )


@pytest.mark.parametrize(
    ("kwh_an_hour", "hand"), [(0.12, 35.53), (0.2, 52.55), (0.3, 73.83), (0.35, 84.47), (0.4, 95.11)]
)
def test_worked_night_that_fills_a_part(kwh_an_hour: float, hand: float) -> None:
    """By hand: 20 x 0.3 = 6 kWh to the house are 6.383 kWh stored, 73.83 % with the reserve; so for the others.

    A stop level is a whole per cent, so 74 %; one more where worth, calculated at every half per cent, does not separate the two.
    """
    plan = even(kwh_an_hour)
    assert hand <= plan.target_level < hand + 2
    assert kwh_an_hour != 0.3 or plan.target_level == 74
    assert plan.grid_charge_kwh == pytest.approx((plan.target_level / 10 - 1) / 0.94, abs=0.001)
    assert plan.reason.held_back is HeldBack.NOTHING
    assert [(window.start, window.end) for window in plan.windows] == [
        (datetime(2026, 1, 15, 1, tzinfo=BERLIN), datetime(2026, 1, 15, 5, tzinfo=BERLIN))
    ]


def test_fuller_start_costs_less_by_what_it_holds() -> None:
    """Half of what is spared at 0.31, the rest is a charge less at 0.11 / 0.94: 2.5 kWh stored are worth between both."""
    plans = [even(0.5, level) for level in (10, 35, 60)]
    costs = [plan.expected_cost - plan.left_worth for plan in plans]
    for fuller, emptier in ((costs[1], costs[0]), (costs[2], costs[1])):
        assert 2.5 / 0.94 * 0.11 - 0.01 <= emptier - fuller <= 2.5 * 0.94 * 0.31 + 0.01


@pytest.mark.parametrize("wear", [0.0, 0.05])
@pytest.mark.parametrize("above", [-0.02, 0.02])
def test_break_even(wear: float, above: float) -> None:
    """A charge pays if buy_now / (eff_c x eff_d) + wear < buy_later: here just below and just above (energy balance)."""
    battery = replace(BATTERY, wear=wear)
    later = 0.20 / 0.94**2 + wear + above
    tariff = Tariff(bands=(Band(start=time(1), end=time(5), buy=0.20),), buy=later)
    plan = plan_of(battery=battery, tariff=tariff)
    assert bool(plan.windows) is (above > 0)
    assert battery.worth_it(0.20, later) is (above > 0)
    if not plan.windows:
        assert plan.reason.key is ReasonKey.NOT_WORTH_IT
        assert (plan.target_level, plan.grid_charge_kwh, plan.saving) == (10.0, 0.0, 0.0)
        assert "is not worth it" in why(plan.reason)


def test_no_window_with_a_full_battery_and_a_bright_day() -> None:
    plan = plan_of(level=95, load=7, solar=14, start=datetime(2026, 6, 20, 20, tzinfo=BERLIN))
    assert plan.windows == ()
    assert plan.reason.key is ReasonKey.NO_NEED
    assert "no need to charge" in why(plan.reason)


def test_window_that_only_holds() -> None:
    """All that is stored is worth more by day, and a cheap night is hardly cheaper than a charge: it is kept, not bought."""
    tariff = Tariff(bands=(Band(start=time(22), end=time(6), buy=0.29),), buy=0.32)
    plan = plan_of(level=60, tariff=tariff, battery=replace(BATTERY, charge_efficiency=0.8))
    assert plan.windows
    assert plan.grid_charge_kwh < 0.05
    assert plan.reason.key is ReasonKey.HOLD
    assert "keeping what is stored" in why(plan.reason)


TWO_HOURS = Tariff(bands=(Band(start=time(2), end=time(4), buy=0.11),), buy=0.31)
DEARER_AFTER = Tariff(bands=(*TWO_HOURS.bands, Band(start=time(4), end=time(9), buy=0.275)), buy=0.31)


@pytest.mark.parametrize(
    ("tariff", "battery", "limits", "held_back", "charge"),
    [
        # By hand: 2 h x 3 kW into the cells; 0.275 / 0.94^2 = 0.311 is more than is spared.
        (TWO_HOURS, HAND, None, HeldBack.WINDOW_TOO_SHORT, 6 / 0.94),
        (DEARER_AFTER, HAND, None, HeldBack.WINDOW_TOO_SHORT, 6 / 0.94),
        # By hand: from 1 kWh 3 kW reach the bend at 3 kWh in 2/3 h; from there the power falls to 5 % at 10 kWh, and of the 7 kWh there,
        # (1 - exp(-(0.95 x 3 / 7) x 4/3)) / 0.95 go in within the other 4/3 h; a step in which the taper begins is a bit too high.
        (TWO_HOURS, replace(HAND, taper_from=30), None, HeldBack.WINDOW_TOO_SHORT, (2 + 7 * 0.4410) / 0.94),
        (NIGHT_RATE, HAND, Limits(most_kw=0.5), HeldBack.POWER, 2 / 0.94),
        (TWO_HOURS, HAND, Limits(most_kw=0.5), HeldBack.POWER, 1 / 0.94),
        (NIGHT_RATE, HAND, None, HeldBack.CAPACITY, 9 / 0.94),
        (NIGHT_RATE, replace(HAND, highest_level=80), None, HeldBack.CAPACITY, 7 / 0.94),
    ],
)
def test_what_held_a_charge_back(
    tariff: Tariff, battery: Battery, limits: Limits | None, held_back: HeldBack, charge: float
) -> None:
    plan = plan_of(tariff=tariff, battery=battery, limits=limits, load=20)
    assert plan.reason.key is ReasonKey.CHARGE
    assert plan.reason.held_back is held_back
    assert plan.grid_charge_kwh == pytest.approx(charge, rel=0.02)
    # A battery that may be charged further is not full.
    assert ("would not fit the battery" in why(plan.reason)) is (held_back is HeldBack.CAPACITY and battery is HAND)
    assert limits is None or all(window.power_kw <= 0.5 for window in plan.windows)


@pytest.mark.parametrize(("dull", "for_it"), [(0.15, False), (0.4, True)])
def test_charge_for_the_chance_of_a_dull_day(dull: float, for_it: bool) -> None:
    """The roof gives 16 kWh at noon, or nothing. A kWh more in the cells costs 0.11 / 0.94 = 0.117 and brings 0.94 x 0.31 = 0.291 on a
    dull day; on a bright one it keeps a kWh of the roof's out, which is sold: 0.06 / 0.94 = 0.064. Worth it from a chance of 0.233 on.
    """
    horizon = Horizon(start=EVENING)
    load = np.full((2, horizon.steps), 0.25)
    noon = np.array([2.0 if 10 <= start.hour < 14 else 0.0 for start in horizon.starts])
    scenarios = Scenarios(weights=np.array([dull, 1 - dull]), load=load, solar=np.stack([0 * noon, noon]))
    plan = make_plan(HAND, 10, tariff_prices(NIGHT_RATE, horizon), scenarios)
    # Both want 5 h x 0.5 kWh from 05:00 to 10:00; a dull day 20 h x 0.5 kWh, which is more than fits.
    morning = 10 + 10 * 2.5 / 0.94
    assert plan.target_level == pytest.approx(100 if for_it else morning, abs=2)
    assert plan.reason.held_back is (HeldBack.CAPACITY if for_it else HeldBack.NOT_WORTH_IT)
    assert ("; more would likely cost more than it saves." in why(plan.reason)) is not for_it


@pytest.mark.parametrize(("margin", "lifted"), [(0.03, False), (0.06, True)])
def test_charge_below_the_reserve_serves_no_one(margin: float, lifted: bool) -> None:
    """From 5 % to a reserve of 60 % 5.5 kWh cost 5.5 / 0.94 x 0.2 = 1.17 and serve no one; a day's other 4 kWh earn 4 x 0.94 x margin.

    At 0.06 that is 0.226 a day: paid back within the eight days that are looked ahead; at 0.03 it is not. With a battery at its reserve
    both are worth it.
    """
    battery = replace(BATTERY, reserve_level=60)
    tariff = Tariff(bands=(Band(start=time(1), end=time(5), buy=0.2),), buy=0.2 / 0.94**2 + margin)
    at_reserve = plan_of(level=60, battery=battery, tariff=tariff)
    assert at_reserve.saving == pytest.approx(4 * 0.94 * margin, abs=0.01)
    plan = plan_of(level=5, battery=battery, tariff=tariff)
    assert bool(plan.windows) is lifted
    assert plan.reason.key is (ReasonKey.CHARGE if lifted else ReasonKey.NOT_WORTH_IT)
    assert (plan.reason.held_back is HeldBack.RESERVE) is not lifted
    assert ("must first lift the battery to its reserve" in why(plan.reason)) is not lifted


def test_price_that_does_not_pay_is_not_laid_on_the_reserve() -> None:
    tariff = Tariff(bands=(Band(start=time(1), end=time(5), buy=0.3),), buy=0.31)
    plan = plan_of(level=5, battery=replace(BATTERY, reserve_level=60), tariff=tariff)
    assert (plan.reason.key, plan.reason.held_back) == (ReasonKey.NOT_WORTH_IT, HeldBack.PRICES)
    assert "reserve" not in why(plan.reason)


def test_highest_level_is_not_passed() -> None:
    plan = plan_of(battery=replace(BATTERY, highest_level=80), load=18)
    assert plan.target_level == 80
    assert max(hour.level for hour in plan.hours) <= 80 + 1e-6


def test_charge_slows_down_near_full() -> None:
    """From 90 % on 3 kW fall linearly to 5 %: 95 % of 1 kWh takes ln(20) / (2.85 / h) = 1.051 h (solved by hand)."""
    battery = Battery(capacity_kwh=10, charge_kw=3, discharge_kw=3)
    most, slope = battery.taper(1.051)
    assert most - slope * 9.0 == pytest.approx(1.0, abs=0.003)
    straight = Battery(capacity_kwh=10, charge_kw=3, discharge_kw=3, taper_to=1.0).taper(1)
    assert straight == (10, 1.0)
    assert HAND.taper(1) == (10, 1.0)


@pytest.mark.parametrize("windows", [0, 1, 2, 3])
def test_no_more_windows_than_the_inverter_holds(windows: int) -> None:
    tariff = Tariff(bands=tuple(Band(start=time(at), end=time(at + 1), buy=0.1) for at in (0, 3, 6, 12, 15)), buy=0.4)
    plan = plan_of(tariff=tariff, load=20, limits=Limits(windows=windows))
    assert len(plan.windows) == windows
    for before, after in zip(plan.windows, plan.windows[1:], strict=False):
        assert before.end <= after.start


def test_windows_that_share_a_limit_have_the_same() -> None:
    """The afternoon is cheaper than the night, so that each of two windows has a level of its own where it can."""
    bands = (Band(start=time(1), end=time(5), buy=0.2), Band(start=time(13), end=time(16), buy=0.05))
    tariff = Tariff(bands=bands, buy=0.4, sell=0.02)
    free = plan_of(tariff=tariff, load=20)
    assert len({window.stop_level for window in free.windows}) == 2
    shared = plan_of(tariff=tariff, load=20, limits=Limits(one_stop_level=True, one_power=True))
    assert len({window.stop_level for window in shared.windows}) == 1
    assert len({window.power_kw for window in shared.windows}) == 1
    assert len(shared.windows) == 2
    assert free.expected_cost <= shared.expected_cost < shared.cost_without
    one_window = plan_of(tariff=tariff, load=20, limits=Limits(windows=1))
    assert shared.expected_cost <= one_window.expected_cost, "one level for two is no worse than one window"


def test_window_over_midnight_counts_as_two_where_it_is_split() -> None:
    plan = plan_of(tariff=OVER_MIDNIGHT, limits=Limits(windows=1, splits_at_midnight=True))
    assert len(plan.windows) == 1
    window = plan.windows[0]
    assert (window.end - timedelta(minutes=1)).date() == window.start.date()


def test_windows_start_where_the_inverter_can() -> None:
    plan = plan_of(limits=Limits(step_minutes=60, lowest_stop_level=40))
    assert plan.windows
    for window in plan.windows:
        assert window.start.minute == window.end.minute == 0
        assert window.stop_level >= 40


@pytest.mark.parametrize("day", [datetime(2026, 3, 28, 20, tzinfo=BERLIN), datetime(2026, 10, 24, 20, tzinfo=BERLIN)])
@pytest.mark.parametrize("hours", [24, 48])
def test_plan_over_a_change_of_the_clock(day: datetime, hours: float) -> None:
    plan = plan_of(start=day, hours=hours)
    assert len(plan.hours) == hours
    assert plan.target_level > 60
    assert max(hour.grid_charge_kwh for hour in plan.hours if hour.buy > 0.3) < 0.05
    assert plan.saving > 1


def test_hours_add_up() -> None:
    plan = plan_of(start=EVENING + timedelta(minutes=30), load=12, solar=2)
    assert len(plan.hours) == 37
    assert sum(hour.load_kwh for hour in plan.hours[:25]) == pytest.approx(12, rel=0.1)
    assert plan.saving == pytest.approx(plan.cost_without - plan.expected_cost)
    levels = [hour.level for hour in plan.hours]
    assert max(levels) == pytest.approx(plan.target_level, abs=1.5)


def test_uncertainty_never_lowers_the_expected_cost() -> None:
    """The mean house is one that a plan can be made for exactly; a house that may be either can at best cost as much."""
    horizon = Horizon(start=EVENING)
    prices = tariff_prices(NIGHT_RATE, horizon)
    rng = np.random.default_rng(7)
    for _ in range(3):
        load = rng.uniform(0.05, 0.45, (6, horizon.steps)) * rng.uniform(0.4, 1.6, (6, 1))
        spread = Scenarios(weights=np.full(6, 1 / 6), load=load, solar=np.zeros_like(load))
        mean = load.mean(axis=0, keepdims=True)
        certain = Scenarios(weights=np.ones(1), load=mean, solar=np.zeros_like(mean))
        plans = [make_plan(BATTERY, 20, prices, one) for one in (spread, certain)]
        costs = [plan.expected_cost - plan.left_worth for plan in plans]
        assert costs[0] >= costs[1] - 0.01


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"capacity_kwh": float("nan")}, "capacity_kwh is not a number"),
        ({"charge_kw": 0.0}, "above 0"),
        ({"charge_efficiency": 94.0}, "0.94 for 94 %"),
        ({"reserve_level": 90.0, "highest_level": 80.0}, "reserve must be the lower"),
        ({"taper_from": 120.0}, "taper_from"),
        ({"wear": -0.1}, "wear is -0.1"),
    ],
)
def test_what_is_no_battery(changes: dict[str, float], says: str) -> None:
    with pytest.raises(BadBattery, match=re.escape(says)):
        replace(BATTERY, **changes)


@pytest.mark.parametrize("level", [-1.0, 100.5, float("nan")])
def test_level_that_none_can_have(level: float) -> None:
    with pytest.raises(BadBattery, match="give 0 to 100"):
        plan_of(level=level)


@pytest.mark.parametrize("changes", [{"windows": -1}, {"step_minutes": 0}, {"lowest_stop_level": 101}, {"most_kw": 0}])
def test_limits_that_are_none(changes: dict[str, int]) -> None:
    with pytest.raises(BadLimits):
        Limits(**changes)


def test_stop_level_below_the_inverters_lowest_is_never_planned() -> None:
    """A window that may stop at 85 % at the lowest: with a battery that may be charged to 80 % there is none to plan."""
    limits = Limits(lowest_stop_level=85)
    assert all(window.stop_level >= 85 for window in plan_of(limits=limits, load=3).windows)
    with pytest.raises(BadLimits, match=r"stop at 85 % or above.*charged to 80 %: raise the highest level") as caught:
        plan_of(limits=limits, battery=replace(BATTERY, highest_level=80))
    assert (caught.value.key, caught.value.values) == ("stop_above_highest", {"lowest": "85", "highest": "80"})


@pytest.mark.parametrize(("target", "lowest", "stop"), [(60, 10, 60), (60, 70, 70), (95, 10, 90)])
def test_fixed_level_is_one_that_the_inverter_and_the_battery_can_have(target: int, lowest: int, stop: int) -> None:
    battery = replace(BATTERY, highest_level=90)
    window = fixed_window(
        battery, 20, target, tariff_prices(NIGHT_RATE, Horizon(start=EVENING)), Limits(lowest_stop_level=lowest)
    )
    assert window is not None
    assert window.stop_level == stop


def test_bright_day_fills_the_battery_for_dull_ones() -> None:
    """The battery lasts two days. Were every day as bright, a kWh more in it would be worth the roof's that is sold for it:
    0.06 / 0.94 = 0.064, and a window would keep the roof from charging. A dull day in turn makes it worth more.
    """
    tariff = Tariff(bands=(Band(start=time(22), end=time(6), buy=0.20),), buy=0.32, sell=0.06)
    start = datetime(2026, 5, 20, 20, tzinfo=BERLIN)
    plans = [
        plan_of(battery=replace(BATTERY, capacity_kwh=15), level=level, tariff=tariff, load=9, solar=14, start=start)
        for level in (50, 60)
    ]
    assert [plan.windows for plan in plans] == [(), ()]
    costs = [plan.expected_cost - plan.left_worth for plan in plans]
    worth = (costs[0] - costs[1]) / 1.5
    assert 0.06 / 0.94 + 0.01 < worth < 0.94 * 0.20
