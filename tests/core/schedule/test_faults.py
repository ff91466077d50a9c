"""Every fault at every request of every kind of change: what a commit reports is what the inverter holds."""

from collections import Counter
from collections.abc import Callable, Iterator

import pytest

from custom_components.chargehand.core.registers import RegisterMap

from .case import Case, run
from .case_bench import CaseBenches
from .changes import MAIN, Change, changes_on
from .outcome_checks import OutcomeWrong
from .request_faults import RequestFault, request_faults_on
from .run_together import run_all
from .variants import VARIANTS

pytestmark = pytest.mark.usefixtures("socket_enabled")

KINDS = [
    pytest.param(name, change, forever, id=f"{name}-{change.name}-{'ever_after' if forever else 'once'}")
    for name in VARIANTS
    for change in changes_on(name)
    for forever in (False, True)
    if not forever or change.name in MAIN
]

LANES = {False: 1, True: 2}
"""How many cases of one sweep go on at a time, by whether the fault stays: those are long and mostly waiting."""

MOST = 12
"""Failures after which a test ends."""

LONGEST = 400
"""Requests that no commit takes: a sweep that gets there has lost its way."""


@pytest.mark.parametrize(("variant", "change", "forever"), KINDS)
def test_a_commit_ends_as_it_says_whichever_request_fails(
    benches: CaseBenches,
    variants: dict[str, RegisterMap],
    variant: str,
    change: Change,
    forever: bool,
    record_property: Callable[[str, object], None],
) -> None:
    ends = Counter[str]()
    wrong: list[str] = []

    async def sweep(request_fault: RequestFault, requests: Iterator[int]) -> None:
        for nth in requests:
            case = Case(
                change=change, register_map=variants[variant], request_fault=request_fault, nth=nth, forever=forever
            )
            async with benches.take() as bench:
                try:
                    result = await run(case, bench)
                except OutcomeWrong as fault:
                    wrong.append(f"{case}: {fault}")
                    assert len(wrong) < MOST, "\n".join(wrong)
                    continue
            ends[result.end] += 1
            if not result.met:
                return
        wrong.append(f"{change.name}: {request_fault.name} was still met at request {LONGEST}")

    # Each request_fault's sweep ends at the first request where it is not met; several go on at a time, each taking the next request.
    sweeps = [(request_fault, iter(range(1, LONGEST))) for request_fault in request_faults_on(variant)]
    benches.loop.run_until_complete(run_all(sweep(*one) for one in sweeps for _ in range(LANES[forever])))
    print(variant, change.name, dict(ends))
    record_property("cases: with a fault", ends.total())
    assert not wrong, "\n".join(wrong)
