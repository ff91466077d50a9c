"""Ten days of spring played on the bench's battery, which is not the planner's: planned nights against simple rules and foresight."""

import numpy as np
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
    """3 800 kWh of load, and for 4 kWp near 1 000 kWh each, usual at 50 degrees (common practice, no source)."""
    house = read_house(REFERENCE)
    year = course(house, 1)
    assert year.load[: 365 * 48].sum() == pytest.approx(3800)
    assert 3400 < year.solar[: 365 * 48].sum() < 4600
    assert np.isfinite(year.solar).all()
