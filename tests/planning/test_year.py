"""Ten days of spring played on the bench's battery, which is not the planner's: planned nights against simple rules and foresight."""

import pytest

from tests.benchmarks.houses.files import read_house
from tests.benchmarks.houses.house import course
from tests.benchmarks.plan_year import ERROR, REFERENCE, Costs, costs

# April, after a quarter of a year of history: bright and dull days in turn, where no fixed rule is right.
DAYS = range(95, 105)


@pytest.fixture(scope="module")
def paid() -> Costs:
    house = read_house(REFERENCE)
    return costs(house, course(house, 1), DAYS, ERROR, 1)


def test_nothing_is_cheaper_than_foresight(paid: Costs) -> None:
    assert paid.best <= min(paid.none, paid.full, paid.winter, paid.chargehand) + 1e-6


def test_planned_nights_beat_the_rules(paid: Costs) -> None:
    assert paid.chargehand < min(paid.full, paid.winter)
    assert paid.captured(paid.chargehand) > paid.captured(paid.full)


def test_reference_house_is_as_told() -> None:
    """BDEW's H25 with 3 800 kWh a year; a roof in a cloudy place.

    Usual at 50 degrees, facing south (common practice, no source): 850 to 1 000 kWh for each kWp a year, 2 to 4 % of it in December; the
    days of a summer month spread by 0.3 to 0.5 of their mean, those of a winter month by more.
    """
    house = read_house(REFERENCE)
    year = course(house, 1)
    assert year.load[: 365 * 48].sum() == pytest.approx(3800)
    days = year.solar[: 365 * 48].reshape(365, 48).sum(axis=1)
    assert 850 < days.sum() / house.solar_kwp < 1000
    assert 0.02 < days[334:].sum() / days.sum() < 0.04
    june, december = days[151:181], days[334:]
    assert 0.3 < june.std() / june.mean() < 0.5
    assert december.std() / december.mean() > june.std() / june.mean()
    loads = year.load[: 365 * 48].reshape(365, 48).sum(axis=1)
    # More in winter, as the profile has it, and days that differ.
    assert 1.2 < loads[:31].mean() / loads[181:212].mean() < 1.6
    assert 0.15 < (loads[1:] / loads[:-1]).std() < 0.5
