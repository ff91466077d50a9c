"""A schedule that was changed elsewhere, step by step: what is reported, and when the confirmed one is put back."""

from datetime import UTC, datetime, timedelta

from custom_components.chargehand.core.foreign_change import ForeignChange, Step, mark

MINUTE = timedelta(minutes=1)
NOON = datetime(2026, 1, 10, 12, tzinfo=UTC)
LATER = NOON + 5 * MINUTE


def test_a_change_is_told_once_and_put_back_when_its_time_is_up() -> None:
    change = ForeignChange(wait=10 * MINUTE, most=2)
    assert change.see(None, 0, NOON) is None
    assert change.see(NOON, 0, NOON + MINUTE) is Step.CHANGED
    assert change.due == NOON + 11 * MINUTE
    assert change.see(NOON, 0, NOON + 10 * MINUTE) is None
    assert change.see(NOON, 0, NOON + 11 * MINUTE) is Step.PUT_BACK
    assert change.see(NOON, 1, NOON + 60 * MINUTE) is None, "one that did not take is not repeated"


def test_who_only_wants_to_be_told_is_only_told() -> None:
    change = ForeignChange(wait=None, most=2)
    assert change.see(NOON, 0, NOON) is Step.CHANGED
    assert change.due is None
    assert change.see(NOON, 0, NOON + 600 * MINUTE) is None


def test_a_further_change_begins_the_time_anew() -> None:
    change = ForeignChange(wait=10 * MINUTE, most=2)
    change.see(NOON, 0, NOON)
    assert change.see(LATER, 0, LATER) is Step.CHANGED
    assert change.see(LATER, 0, NOON + 10 * MINUTE) is None
    assert change.see(LATER, 0, LATER + 10 * MINUTE) is Step.PUT_BACK


def test_a_change_that_no_longer_stands_is_left_alone() -> None:
    change = ForeignChange(wait=10 * MINUTE, most=2)
    change.see(NOON, 0, NOON)
    assert change.see(None, 0, LATER) is None
    assert change.due is None
    assert change.see(LATER, 0, LATER + MINUTE) is Step.CHANGED, "the next one is another"


def test_after_so_many_times_a_day_it_is_only_told() -> None:
    change = ForeignChange(wait=10 * MINUTE, most=2)
    assert change.see(NOON, 2, NOON) is Step.CHANGED
    assert change.due is None
    change.see(LATER, 1, LATER)
    assert change.see(LATER, 2, LATER + 10 * MINUTE) is None, "put back by hand meanwhile"


def test_a_button_counts_for_the_change_that_it_was_for() -> None:
    change = ForeignChange(wait=10 * MINUTE, most=2)
    change.see(NOON, 0, NOON)
    assert change.decide(Step.KEEP, mark(NOON), NOON) is Step.KEEP
    assert change.due is None, "an objection counts also where the inverter cannot be read"
    assert change.decide(Step.KEEP, mark(NOON), LATER) is Step.LATE
    assert change.decide(Step.PUT_BACK, mark(NOON), None) is Step.LATE
    again = ForeignChange(wait=10 * MINUTE, most=2)
    again.see(NOON, 0, NOON)
    assert again.due is not None
    assert again.decide(Step.PUT_BACK, mark(NOON), NOON) is Step.PUT_BACK
    assert again.due is None, "it is being done"


def test_changes_of_one_second_are_told_apart() -> None:
    assert mark(NOON) != mark(NOON + timedelta(milliseconds=1))
