"""What a charge has earned: days that were calculated by hand, and what must not be earned by it."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from custom_components.chargehand.core.planning import (
    BadForecast,
    Battery,
    Charge,
    Horizon,
    Limits,
    MeteredDay,
    Prices,
    charge_bill,
    day_prices,
    earned,
    metered_steps,
    tariff_prices,
)

from .given import BERLIN, EVENING, NIGHT_RATE

type Steps = np.ndarray[tuple[int], np.dtype[np.float64]]

BATTERY = Battery(capacity_kwh=10, charge_kw=3, discharge_kw=3, taper_from=100)
BEGIN = datetime(2026, 1, 15, 1, 0, tzinfo=BERLIN)
END = datetime(2026, 1, 15, 5, 0, tzinfo=BERLIN)


def prices() -> Prices:
    """0.11 from 01:00 to 05:00, else 0.31; from 20:00."""
    half_hours = tariff_prices(NIGHT_RATE, Horizon(start=EVENING))
    return day_prices(EVENING, list(half_hours.buy), list(half_hours.sell), 30)


def day(load: Steps, solar: Steps) -> MeteredDay:
    return MeteredDay(prices=prices(), load=load, solar=solar)


def flat(kwh_an_hour: float) -> Steps:
    return np.full(288, kwh_an_hour / 12)


def test_worked_night() -> None:
    """The night by hand of docs/planning.md, seen from the evening after it.

    9 / 0.94 = 9.5745 kWh at 0.11 = 1.0532. From 05:00 to 20:00 the house takes 15 x 0.5 = 7.5 kWh, which were 2.3250 at 0.31. At 20:00
    10 - 7.5 / 0.94 = 2.0213 kWh are stored, 1.0213 above the reserve; they spare 0.96 of the 2.5 kWh until 01:00, worth 0.2976.
    2.3250 + 0.2976 - 1.0532 = 1.5694.
    """
    found = earned(BATTERY, day(flat(0.5), flat(0)), 10, [Charge(start=BEGIN, end=END, kwh=9)], Limits())
    assert found.bill.grid_kwh == pytest.approx(9.5745, abs=1e-4)
    assert found.bill.cost == pytest.approx(1.0532, abs=1e-4)
    assert found.saving == pytest.approx(1.5694, abs=1e-3)


def test_less_than_the_window_could_is_what_was_metered() -> None:
    """3 kWh in, 3 x 0.94 = 2.82 kWh out at 0.31 before 20:00: 0.8742 - 3 / 0.94 x 0.11 = 0.5231."""
    found = earned(BATTERY, day(flat(0.5), flat(0)), 10, [Charge(start=BEGIN, end=END, kwh=3)], Limits())
    assert found.bill.cost == pytest.approx(0.3511, abs=1e-4)
    assert found.saving == pytest.approx(0.5231, abs=1e-3)


def test_charge_for_a_house_that_uses_nothing_is_lost_and_no_more_than_that() -> None:
    """4 / 0.94 x 0.11 = 0.4681, for what is still there in the evening and worth nothing to it."""
    idle = earned(BATTERY, day(flat(0), flat(0)), 50, [Charge(start=BEGIN, end=END, kwh=4)], Limits())
    assert idle.saving == pytest.approx(-0.4681, abs=1e-3)


def test_what_is_left_in_the_evening_counts() -> None:
    """0.1 kWh an hour: 1.5 kWh by 20:00, and 0.5 kWh to 01:00 at 0.31; the rest spares the next night's charge, 0.11 / 0.94 a kWh."""
    found = earned(BATTERY, day(flat(0.1), flat(0)), 10, [Charge(start=BEGIN, end=END, kwh=3)], Limits())
    stored = 3 - 1.5 / 0.94 - 0.5 / 0.94
    assert found.saving == pytest.approx(2 * 0.31 + stored * 0.11 / 0.94 - 3 / 0.94 * 0.11, abs=0.02)


def test_charge_under_a_roof_that_would_have_filled_the_battery_is_a_loss() -> None:
    """From 60 % the roof fills it by 11:00: 4 kWh of sun are sold at 0.06 instead; bought for 4 / 0.94 x 0.11 = 0.4681.

    Without it they would have come for 4 / 0.94 = 4.2553 kWh not sold, 0.2553. With prices of 0.31 never reached, it lost 0.2128.
    """
    solar = np.zeros(288)
    solar[13 * 12 : 17 * 12] = 2.4 / 12
    found = earned(BATTERY, day(flat(0), solar), 60, [Charge(start=BEGIN, end=END, kwh=4)], Limits())
    assert found.saving == pytest.approx(-0.2128, abs=2e-3)


def test_what_the_roof_gave_in_a_window_was_not_bought() -> None:
    noon = datetime(2026, 1, 15, 12, 0, tzinfo=BERLIN)
    charge = Charge(start=noon, end=noon + timedelta(hours=2), kwh=1.5)
    solar = np.zeros(288)
    solar[16 * 12 : 18 * 12] = 0.5 / 12
    with_roof = earned(BATTERY, day(flat(0), solar), 10, [charge], Limits())
    # 1.5 / 0.94 = 1.596 kWh go in during the first 30 minutes, in which the roof gives 0.25 kWh: 1.346 kWh are bought.
    assert with_roof.bill.grid_kwh == pytest.approx(1.346, abs=0.05)
    assert charge_bill(BATTERY, prices(), [charge], Limits()).grid_kwh == pytest.approx(1.5 / 0.94)
    # The roof's other 0.75 kWh are sold, since neither roof nor house moves a battery that rests; nobody uses what is stored, and it fits.
    roomy = replace(BATTERY, capacity_kwh=30)
    with_roof = earned(roomy, day(flat(0), solar), 10, [charge], Limits())
    assert with_roof.saving == pytest.approx(-(1.346 * 0.31 - 0.75 * 0.06), abs=5e-3)


def test_windows_are_taken_in_order_and_faster_than_planned_where_that_was_metered() -> None:
    early = Charge(start=BEGIN, end=BEGIN + timedelta(hours=1), kwh=2.5)
    late = Charge(
        start=datetime(2026, 1, 15, 3, 0, tzinfo=BERLIN), end=datetime(2026, 1, 15, 3, 30, tzinfo=BERLIN), kwh=2
    )
    both = earned(BATTERY, day(flat(0.5), flat(0)), 10, [late, early], Limits())
    assert both.bill.grid_kwh == pytest.approx(4.5 / 0.94)
    # Between them and after them the house takes 2.5 h x 0.5 kWh from the battery, which spares 0.11 a kWh and no more.
    assert both.saving == pytest.approx(1.25 * 0.11 + (4.5 * 0.94 - 1.25) * 0.31 - 4.5 / 0.94 * 0.11, abs=2e-3)


def test_night_without_a_window_earns_nothing() -> None:
    found = earned(BATTERY, day(flat(0.5), flat(0)), 40, [], Limits())
    assert (found.saving, found.bill.grid_kwh, found.bill.cost) == (0, 0, 0)


def test_window_in_which_the_battery_only_rests_earns_what_it_keeps() -> None:
    """40 %: 3 kWh above the reserve. From 01:00 to 05:00 the house buys 4 x 0.5 = 2 kWh at 0.11 that the battery would have given; so
    2 / 0.94 kWh stay, and spare 2 kWh at 0.31 after 05:00: 2 x 0.20 = 0.40. A level that fell by rounding is one that rested.
    """
    for kwh in (0.0, -0.1):
        found = earned(BATTERY, day(flat(0.5), flat(0)), 40, [Charge(start=BEGIN, end=END, kwh=kwh)], Limits())
        assert found.saving == pytest.approx(0.40, abs=1e-3)
        assert (found.bill.grid_kwh, found.bill.cost) == (0, 0)


def test_charge_is_played_at_its_windows_power() -> None:
    """5 kWh from 23:30, an hour and a half before the cheap time: at 3 kW 4.5 kWh go in before at 0.31, at 1 kW 1.5 kWh."""
    window = Charge(start=BEGIN - timedelta(hours=1.5), end=END, kwh=5)
    full, slow = (
        charge_bill(BATTERY, prices(), [replace(window, power_kw=power)], Limits()).cost for power in (None, 1.0)
    )
    assert full == pytest.approx((4.5 * 0.31 + 0.5 * 0.11) / 0.94)
    assert slow == pytest.approx((1.5 * 0.31 + 3.5 * 0.11) / 0.94)
    metered = earned(BATTERY, day(flat(0.5), flat(0)), 10, [replace(window, power_kw=1.0)], Limits())
    assert metered.bill.cost == pytest.approx(slow)


def test_capacity_in_whole_numbers_is_filled_as_any_other() -> None:
    """Was it kept as a whole number, what follows a full battery would be calculated in whole kWh."""
    whole = replace(BATTERY, capacity_kwh=10)
    assert isinstance(whole.capacity_kwh, float)
    charge = Charge(start=BEGIN, end=END, kwh=12)
    found = earned(whole, day(flat(0.5), flat(0)), 10, [charge], Limits())
    assert found.saving == pytest.approx(
        earned(replace(BATTERY, capacity_kwh=10.0), day(flat(0.5), flat(0)), 10, [charge], Limits()).saving
    )


def test_night_in_which_clocks_are_moved_is_placed_by_real_time() -> None:
    """2026-03-29 has no 02:00 in Berlin (Directive 2000/84/EC): 01:00 to 05:00 is 3 h, all of it at 0.11."""
    evening = datetime(2026, 3, 28, 20, 0, tzinfo=BERLIN)
    half_hours = tariff_prices(NIGHT_RATE, Horizon(start=evening))
    of_the_day = day_prices(evening, list(half_hours.buy), list(half_hours.sell), 30)
    window = Charge(
        start=datetime(2026, 3, 29, 1, 0, tzinfo=BERLIN), end=datetime(2026, 3, 29, 5, 0, tzinfo=BERLIN), kwh=20
    )
    roomy = Battery(capacity_kwh=30, charge_kw=3, discharge_kw=3)
    assert charge_bill(roomy, of_the_day, [window], Limits()).cost == pytest.approx(20 / 0.94 * 0.11)


def test_hours_become_steps_and_a_gap_becomes_nothing() -> None:
    horizon = prices().horizon
    first = EVENING.astimezone(UTC)
    hours = {first + timedelta(hours=at): float(at) for at in range(-1, 24)}
    steps = metered_steps(hours, horizon)
    assert steps is not None
    assert steps[12:24] == pytest.approx(1 / 12)
    for missing in (-1, 0, 13, 23):
        left = {at: kwh for at, kwh in hours.items() if at != first + timedelta(hours=missing)}
        assert metered_steps(left, horizon) is None


def test_prices_that_do_not_cover_the_day_are_refused() -> None:
    with pytest.raises(BadForecast, match="do not cover"):
        day_prices(EVENING, [0.3] * 47, [0.0] * 47, 30)
