"""Ten days of spring, played on a battery that is not the planner's: planned nights against simple rules and foresight."""

import numpy as np
import pytest

from tests.benchmarks.houses.calendar import EARLIER, day_sums, place
from tests.benchmarks.houses.course import Course, course
from tests.benchmarks.houses.evening import evening
from tests.benchmarks.houses.files import read_house
from tests.benchmarks.houses.house import House
from tests.benchmarks.houses.street import STREET
from tests.benchmarks.houses.year import Paid, paid
from tests.benchmarks.plan_year import REFERENCE

DAYS = range(95, 105)
YEAR = slice(EARLIER, EARLIER + 365)
NAMED = {house.name: house for house in STREET}


@pytest.fixture(scope="module")
def reference() -> House:
    return read_house(REFERENCE)


@pytest.fixture(scope="module")
def over(reference: House) -> Course:
    return course(reference, 100)


@pytest.fixture(scope="module")
def ways(reference: House, over: Course) -> Paid:
    return paid(reference, over, DAYS)


def test_nothing_is_cheaper_than_foresight(ways: Paid) -> None:
    assert ways.best <= min(ways.none, ways.full, ways.winter, ways.chargehand, ways.knowing) + 1e-6


def test_planned_nights_beat_the_rules(ways: Paid) -> None:
    assert ways.chargehand < min(ways.full, ways.winter)
    assert ways.knowing < ways.chargehand


def test_reference_house_is_as_told(reference: House, over: Course) -> None:
    """BDEW's H25 with 3 800 kWh a year; a roof in a cloudy place.

    Usual at 50 degrees, facing south (common practice, no source): 850 to 1 000 kWh for each kWp a year, 2 to 4 % of it in December; the
    days of a summer month spread by 0.3 to 0.5 of their mean, those of a winter month by 0.4 and more.
    """
    days, loads = day_sums(over.solar)[YEAR], day_sums(over.load)[YEAR]
    assert loads.sum() == pytest.approx(3800, rel=0.01)
    assert 800 < days.sum() / reference.solar_kwp < 1000
    assert 0.015 < days[334:].sum() / days.sum() < 0.04
    june, december = days[151:181], days[334:]
    assert 0.3 < june.std() / june.mean() < 0.5
    assert 0.4 < december.std() / december.mean() < 1
    # More in winter, as the profile has it.
    assert 1.1 < loads[:31].mean() / loads[181:212].mean() < 1.7


def test_days_differ_as_those_of_households_do(over: Course) -> None:
    """Households differ from day to day by 20 to 32 % (SimBench's household profiles of 2016, measured around their months)."""
    for each in (over, course(NAMED["measured A"], 100), course(NAMED["measured L"], 100)):
        loads = day_sums(each.load)[YEAR]
        month = np.convolve(np.pad(loads, 14, "edge"), np.ones(29) / 29, "valid")
        assert 0.18 < (loads / month).std() < 0.34


def test_forecasts_err_in_kwh_and_not_in_shares(over: Course) -> None:
    """Day-ahead errors of about 30 % of the season's mean day (common practice, no source), on dull days as on others."""
    actual, predicted = over.actual[YEAR], over.predicted[1][YEAR]
    season = np.convolve(np.pad(actual, 15, "edge"), np.ones(31) / 31, "valid")
    error = np.abs(predicted - actual) / season
    dull = actual < 0.5 * season
    assert 0.2 < np.sqrt((error**2).mean()) < 0.34
    assert error[dull].mean() > 0.7 * error[~dull].mean()
    assert (np.abs(predicted - actual) / actual)[dull].mean() > 2 * (np.abs(predicted - actual) / actual)[~dull].mean()


def test_evening_knows_what_is_published_and_no_more() -> None:
    """Prices to the midnight after next, hours of the load up to now, days of the roof that are over."""
    house = NAMED["half-hourly, roof"]
    over = course(house, 100)
    known = evening(house, over, 40, 50)
    assert (known.prices[-1].end - known.start).total_seconds() == 28 * 3600
    assert known.history[-1][0] < known.start
    assert known.history[-1][1] == pytest.approx(over.load[place(known.start) - 2 :][:2].sum())
    assert known.pairs[-1][1] == pytest.approx(over.actual[EARLIER + 39])
