"""Commits, faults, other hands and restarts in any order: what was reported is what is there."""

from collections import Counter
from collections.abc import Callable

import pytest
from hypothesis import HealthCheck, Phase, settings
from hypothesis.stateful import run_state_machine_as_test

from custom_components.chargehand.core.registers import RegisterMap

from .case_bench import CaseBenches
from .history import History

pytestmark = pytest.mark.usefixtures("socket_enabled")

BOUNDED = settings(
    max_examples=8,
    stateful_step_count=10,
    deadline=None,
    database=None,
    # A history is ten steps at most and takes seconds: it is read as it is, not shrunk.
    phases=(Phase.generate,),
    suppress_health_check=list(HealthCheck),
)


@pytest.mark.parametrize("variant", ["armed_long", "armed_four", "bare_four", "bare_single"])
def test_any_history_leaves_what_was_said(
    benches: CaseBenches,
    variants: dict[str, RegisterMap],
    variant: str,
    record_property: Callable[[str, object], None],
) -> None:
    ends = Counter[str]()
    run_state_machine_as_test(lambda: History(benches, variants[variant], ends), settings=BOUNDED)  # type: ignore[arg-type]
    print(variant, dict(ends))
    record_property("cases: in histories", ends.total())
    assert ends["confirmed"]
