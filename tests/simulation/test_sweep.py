"""What is said of a commit is what the inverter holds, and it acts on no mixture on the way: on kinds made by hand and as chance has them."""

from collections.abc import Callable
from random import Random

import pytest
from hypothesis import HealthCheck, Phase, given, seed, settings

from .case import Case, stage
from .changes import draw_changes
from .drawn import kinds
from .faults import faults_on
from .kinds import HAND_MADE, Arming, Kind, Lock, Save, Slot, block, switched
from .sweep import sweep

CASES = 600
"""Of each kind made by hand, drawn from all its changes, faults and requests; `tests.benchmarks.commit_sweep` runs many more."""

DRAWN = 12
"""Kinds a test draws."""

CASES_DRAWN = 70

pytestmark = pytest.mark.timeout(600)


@pytest.mark.parametrize("kind", HAND_MADE, ids=lambda kind: kind.name.replace(" ", "_"))
def test_a_commit_acts_on_no_mixture_and_ends_as_it_says(
    kind: Kind, record_property: Callable[[str, object], None]
) -> None:
    swept = sweep(kind, seed=1, most=CASES)
    record_property("cases", swept.cases)
    assert not swept.untrue, "\n".join(swept.untrue)
    # A sweep that meets no fault, or nothing but faults, has lost its way.
    assert swept.ends["Committed"] > CASES / 4
    assert len(swept.ends) > 3


@pytest.mark.parametrize("number", range(8))
def test_a_commit_acts_on_no_mixture_on_kinds_that_nobody_thought_of(number: int) -> None:
    cases = 0

    @seed(number)
    @settings(
        max_examples=DRAWN,
        deadline=None,
        database=None,
        phases=[Phase.explicit, Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(kinds())
    def sweep_drawn(kind: Kind) -> None:
        nonlocal cases
        swept = sweep(kind, seed=number, most=CASES_DRAWN)
        cases += swept.cases
        assert not swept.untrue, f"{kind}\n" + "\n".join(swept.untrue)

    sweep_drawn()
    assert cases > DRAWN * CASES_DRAWN / 2


@pytest.mark.parametrize("activates", [False, True])
def test_an_inverter_that_refuses_to_save_holds_and_acts_on_what_it_did_before(activates: bool) -> None:
    kind = Kind(
        name="never saves",
        charge=switched(block(40, 3, stride=4, least=100), 10, 0),
        save=Save(activates=activates, code=3),
        lock=Lock(once=True, code=4),
    )
    swept = sweep(kind, seed=3, most=300)
    assert not swept.untrue, "\n".join(swept.untrue)
    assert not swept.ends["Committed"]
    assert swept.ends["NotTaken"] > 100


def test_a_change_that_a_hand_arms_in_its_middle_is_taken_back_by_way_of_its_own_mode() -> None:
    """Only the change names a mode in which the windows do not act; its earlier schedule was armed, and so is what is there now."""
    kind = Kind(
        name="a mode arms beside others' bits, scattered windows, deaf for 1.5 s after each write",
        charge=tuple(
            Slot(start=at, level=at + 1, power=at + 3, end=at + 5, layout="packed", scale=10, least=100)
            for at in (32, 38, 44, 50)
        ),
        discharge=(),
        arming=Arming(address=10, bits=(12, 14), on=2, others=(0, 1, 4)),
        crosses=False,
        latest_end="23:59",
        longest_write=6,
        mask_write=True,
        deaf_ms=1500,
    )
    with stage(kind, seed=12) as at:
        (change,) = [one for one in draw_changes(kind, Random(12)) if one.name == "restore what was not armed"]
        ends = [
            at.run(Case(change=change, fault=fault, nth=nth, forever=True))[0]
            for fault in faults_on(kind)
            if fault.puts == "arming"
            for nth in range(1, 25)
        ]
    assert "Uncertain_before" in ends


def test_a_sweep_repeats_exactly() -> None:
    kind = HAND_MADE[10]
    first, second = (sweep(kind, seed=7, most=80) for _ in range(2))
    assert first.ends == second.ends
