"""Every fault at every request of every kind of change: what is said of a commit is what the inverter holds."""

from collections import Counter
from collections.abc import Callable, Iterator

import pytest

from custom_components.chargehand.core.registers import RegisterMap

from .case import Case, run
from .changes import MAIN, Change, changes_on
from .mishaps import Mishap, mishaps_on
from .stand import Stands
from .truth import Untrue
from .variants import VARIANTS
from .works import all_of

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
    stands: Stands,
    variants: dict[str, RegisterMap],
    variant: str,
    change: Change,
    forever: bool,
    record_property: Callable[[str, object], None],
) -> None:
    ends = Counter[str]()
    untrue: list[str] = []

    async def sweep(mishap: Mishap, requests: Iterator[int]) -> None:
        for nth in requests:
            case = Case(change=change, register_map=variants[variant], mishap=mishap, nth=nth, forever=forever)
            async with stands.take() as stand:
                try:
                    result = await run(case, stand)
                except Untrue as fault:
                    untrue.append(f"{case}: {fault}")
                    assert len(untrue) < MOST, "\n".join(untrue)
                    continue
            ends[result.end] += 1
            if not result.met:
                return
        untrue.append(f"{change.name}: {mishap.name} was still met at request {LONGEST}")

    # Each mishap's sweep ends at the first request where it is not met; several go on at a time, each taking the next request.
    sweeps = [(mishap, iter(range(1, LONGEST))) for mishap in mishaps_on(variant)]
    stands.loop.run_until_complete(all_of(sweep(*one) for one in sweeps for _ in range(LANES[forever])))
    print(variant, change.name, dict(ends))
    record_property("cases: with a fault", ends.total())
    assert not untrue, "\n".join(untrue)
