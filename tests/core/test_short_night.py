"""A night's charge: what counts as planned and reached, and why it was short. The figures are worked out by hand beside each."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from custom_components.chargehand.core.night_facts import NightCharge, NightFacts, NightPlan
from custom_components.chargehand.core.schedule import Acting, Schedule, Window
from custom_components.chargehand.core.short_night import short_reason

WINDOW = Window(start=60, end=180, power=3000.0, stop_level=90.0)
BEGINS = datetime(2026, 1, 11, 1, tzinfo=UTC)
ENDED = Acting(
    number=1, window=WINDOW, scheduled=BEGINS.replace(tzinfo=None), start=BEGINS, end=BEGINS + timedelta(hours=2)
)
PLAN = NightPlan(charges=True, target_level=90.0, expected_saving=1.0, why="The next day is dark.")
FACTS = NightFacts(level_now=40.0, plan=PLAN, charges=[], held=Schedule(charge=(WINDOW,), armed=True), ended=[ENDED])


def reason(facts: NightFacts, least: float | None = 87.0) -> str:
    return short_reason(facts, facts.level, least).key


def test_of_several_reasons_the_first_is_given() -> None:
    everything = replace(
        FACTS,
        unproven=True,
        changed_elsewhere="its windows",
        not_taken="kept its own",
        clock_ahead=-900,
        alarms=["cold"],
    )
    assert reason(replace(everything, held=None)) == "short_no_answer"
    assert reason(replace(everything, level_now=None)) == "short_no_answer"
    assert reason(everything) == "short_unproven"
    changed = replace(everything, unproven=False)
    assert reason(changed) == "short_changed_elsewhere"
    kept = replace(changed, changed_elsewhere=None)
    assert reason(kept) == "short_not_taken"
    off = replace(kept, not_taken=None, held=Schedule(charge=(WINDOW,), armed=False))
    assert reason(off) == "short_not_armed"
    empty = replace(off, held=Schedule(charge=(Window(),), armed=True))
    assert reason(empty) == "short_no_window"
    early = replace(empty, held=Schedule(charge=(replace(WINDOW, stop_level=60.0),), armed=True))
    assert reason(early) == "short_stops"
    assert reason(early, least=60.0) == "short_clock_behind"
    assert reason(replace(early, clock_ahead=301), least=None) == "short_clock_ahead"
    assert reason(replace(early, clock_ahead=300), least=None) == "short_alarms"
    assert reason(replace(FACTS, ended=[])) == "short_none_ended"


@pytest.mark.parametrize(
    ("limit", "kwh", "why"),
    [
        # 3000 W for two hours are 6 kWh, of which 70 % are 4.2 kWh.
        ({"power": 3000.0}, 4.3, "short_hours"),
        ({"power": 3000.0}, 4.1, "short_battery"),
        # 40 A at 51.2 V are 2048 W: 4.096 kWh in two hours, of which 70 % are 2.867 kWh.
        ({"power": None, "current": 40.0}, 2.9, "short_hours"),
        ({"power": None, "current": 40.0}, 2.8, "short_battery"),
        ({"power": None}, 2.8, "short_hours_or_battery"),
        ({"power": 3000.0}, None, "short_hours_or_battery"),
    ],
)
def test_what_came_is_compared_with_what_the_limit_lets_in(
    limit: dict[str, float | None], kwh: float | None, why: str
) -> None:
    one = replace(ENDED, window=replace(WINDOW, **limit))
    assert reason(replace(FACTS, ended=[one], plan=replace(PLAN, grid_charge_kwh=kwh))) == why


def test_a_window_with_no_stop_level_charges_until_the_battery_is_full() -> None:
    endless = Schedule(charge=(replace(WINDOW, stop_level=None),))
    assert reason(replace(FACTS, held=endless), least=100.0) == "short_hours_or_battery"


def test_the_plans_level_counts_before_that_of_a_window_and_that_of_a_window_before_what_is_held() -> None:
    facts = replace(FACTS, charges=[NightCharge(wanted=70.0, reached=66.0), NightCharge(wanted=80.0, reached=None)])
    assert facts.planned == 90.0
    assert replace(facts, plan=None).planned == 80.0
    assert replace(facts, plan=None, charges=[]).planned == 90.0
    assert replace(facts, plan=None, charges=[], ended=[]).planned is None


def test_a_plan_to_charge_nothing_has_no_level_to_reach_unless_a_window_charged_all_the_same() -> None:
    none = replace(FACTS, plan=replace(PLAN, charges=False, target_level=80.0), level_now=40.0)
    assert none.none_planned
    assert none.planned is None
    assert not none.lower(3.0)
    assert not replace(none, unproven=True).disturbed
    to_the_lowest = replace(none, charges=[NightCharge(wanted=30.0, reached=30.0)])
    assert to_the_lowest.planned == 30.0
    assert not to_the_lowest.lower(3.0), "the evening's 80 % are not what was to be reached"


def test_what_the_last_window_reached_is_not_made_up_from_an_earlier_one() -> None:
    facts = replace(FACTS, charges=[NightCharge(wanted=90.0, reached=66.0), NightCharge(wanted=90.0, reached=None)])
    assert facts.reached is None
    assert facts.level == 40.0
    assert replace(facts, plan=replace(PLAN, level_reached=88.0)).level == 88.0


def test_a_charge_that_goes_on_is_not_short_yet() -> None:
    assert FACTS.lower(3.0)
    assert not replace(FACTS, acting=True).lower(3.0)
    assert replace(FACTS, acting=True, plan=replace(PLAN, level_reached=50.0)).lower(3.0)
    assert not replace(FACTS, level_now=87.0).lower(3.0)
