"""What a house used, by hand: from counters at its edges, with hours that are missing and counters that do not agree."""

from datetime import UTC, datetime, timedelta

import pytest

from custom_components.chargehand.core.planning import Flow, Hour, balance

FIRST = datetime(2026, 11, 2, 17, tzinfo=UTC)


def rises(*kwh: float | None, late: int = 0) -> list[Hour]:
    """How much a counter rose up to the end of each hour; None: it has no such hour."""
    return [(FIRST + timedelta(hours=at + late), rise) for at, rise in enumerate(kwh) if rise is not None]


def by_hour(*kwh: float | None, late: int = 1) -> list[Hour]:
    return [(FIRST + timedelta(hours=at + late), used) for at, used in enumerate(kwh)]


def known(flows: list[Flow]) -> list[Hour]:
    return [(start, None if kwh is None else round(kwh, 9)) for start, kwh in balance(flows)]


def test_the_house_uses_what_comes_in_less_what_goes_out() -> None:
    flows = [
        Flow(hours=rises(9, 1.2, 0.0, 3.0)),
        Flow(hours=rises(9, 0.0, 1.5, 0.0), sign=-1),
        Flow(hours=rises(9, 0.0, 2.4, 0.0), sleeps=True),
        Flow(hours=rises(9, 0.3, 0.0, 0.0)),
        Flow(hours=rises(9, 0.0, 0.4, 2.6), sign=-1),
    ]
    # 1.2 + 0.3; 2.4 - 1.5 - 0.4; 3.0 - 2.6. The first hour of all counts from a time that nobody knows.
    assert known(flows) == by_hour(1.5, 0.5, 0.4)


def test_an_hour_that_one_counter_lacks_is_not_known_nor_is_the_next_one() -> None:
    """The counter's next rise is that of both hours together."""
    flows = [Flow(hours=rises(1, 0.5, None, 1.1, 0.6)), Flow(hours=rises(1, 0.1, 0.1, 0.1, 0.1))]
    assert known(flows) == by_hour(0.6, None, None, 0.7)


def test_a_counter_that_stood_still_meanwhile_is_known() -> None:
    flows = [Flow(hours=rises(1, 0.5, 0.4, 0.6, 0.6)), Flow(hours=rises(1, 0.1, None, 0.0, 0.1), sign=-1)]
    assert known(flows) == by_hour(0.4, 0.4, 0.6, 0.5)


@pytest.mark.parametrize(("sleeps", "night"), [(True, [0.5, 0.5, 1.3, 0.5]), (False, [0.5, None, None, 0.5])])
def test_a_roof_that_slept_gave_nothing(sleeps: bool, night: list[float | None]) -> None:
    flows = [
        Flow(hours=rises(1, 0.5, 0.5, 0.5, 0.5)),
        Flow(hours=rises(1, 0.0, None, 0.8, 0.0), sleeps=sleeps),
    ]
    assert known(flows) == by_hour(*night)


def test_a_roof_that_was_not_read_for_a_day_is_not_known() -> None:
    flows = [Flow(hours=rises(1, *[0.5] * 6)), Flow(hours=rises(1, 0.0, None, None, 7.0, 0.0, 0.0), sleeps=True)]
    assert known(flows) == by_hour(0.5, None, None, None, 0.5, 0.5)


def test_a_counter_fitted_later_begins_the_history_and_one_that_stopped_leaves_it_unknown() -> None:
    flows = [Flow(hours=rises(1, *[0.5] * 6)), Flow(hours=rises(0, 0.1, 0.1, late=2))]
    assert known(flows) == by_hour(0.6, 0.6, None, None, late=3)


def test_a_counter_without_any_hour_leaves_all_unknown() -> None:
    assert known([Flow(hours=rises(1, 0.5, 0.5)), Flow(hours=())]) == by_hour(None, None)
    assert known([Flow(hours=())]) == []


def test_a_little_less_than_nothing_is_rounding_and_more_is_left_to_be_refused() -> None:
    """Three counters in tenths: 0.3 kWh; beyond, they contradict each other."""
    flows = [
        Flow(hours=rises(1, 0.0, 0.0)),
        Flow(hours=rises(1, 0.0, 0.0)),
        Flow(hours=rises(1, 0.3, 0.4), sign=-1),
    ]
    assert known(flows) == by_hour(0.0, -0.4)


def test_a_counter_that_went_back_is_not_known_for_that_hour() -> None:
    flows = [Flow(hours=rises(1, 0.5, 0.5, 0.5)), Flow(hours=rises(1, 0.1, -40.0, 0.1), sign=-1)]
    assert known(flows) == by_hour(0.4, None, 0.4)
