"""Whoever watches a commit is told each step as it begins, and changes nothing of what is sent."""

import logging
from collections.abc import Callable

import pytest

from custom_components.chargehand.core.registers import RegisterMap
from custom_components.chargehand.core.schedule import commit_steps
from custom_components.chargehand.core.schedule.commit import NotTaken
from custom_components.chargehand.core.schedule.commit_steps import CommitStep
from custom_components.chargehand.core.schedule.request import Rejected, ScheduleRequest, WindowRequest
from tests.bench.protocol import Entry as Request
from tests.bench.teasel import CHARGE

from .case_bench import CaseBench, CaseBenches
from .changes import changes_on

pytestmark = pytest.mark.usefixtures("socket_enabled")

VARIANT = "armed_four"
(CHANGE,) = [change for change in changes_on(VARIANT) if change.name == "six_and_arm"]
WRITES = {6, 16}
"""Function codes that write (Modbus Application Protocol V1.1b3, 6)."""


def sent(requests: list[Request]) -> list[tuple[int, int, list[int]]]:
    """What was asked of the inverter, without when."""
    return [(one["function"], one["first"], one["values"]) for one in requests]


def test_each_step_is_told_before_its_first_request(benches: CaseBenches, variants: dict[str, RegisterMap]) -> None:
    async def work(bench: CaseBench) -> None:
        await bench.hold(CHANGE.before)
        steps: list[str] = []
        async with bench.inverter(variants[VARIANT], None) as inverter:
            write = inverter.line.write
            read = inverter.line.read

            async def noted_read(*given: object, **named: object) -> object:
                steps.append("a read")
                return await read(*given, **named)

            async def noted_write(*given: object, **named: object) -> object:
                steps.append("a write")
                return await write(*given, **named)

            inverter.line.read, inverter.line.write = noted_read, noted_write
            inverter.on_step = steps.append
            await CHANGE.ask(inverter)
        once = [step for at, step in enumerate(steps) if steps[at - 1 : at] != [step]]
        assert once[:4] == ["checking", "a read", "writing", "a write"]
        assert once[-2:] == ["reading_back", "a read"]
        told = [step for step in once if step in set(CommitStep)]
        assert told == ["checking", *["writing", "reading_back"] * once.count("a write")]

    benches.run(work)


def test_a_change_that_is_refused_gets_no_further_than_checking(
    benches: CaseBenches, variants: dict[str, RegisterMap]
) -> None:
    async def work(bench: CaseBench) -> None:
        await bench.hold(CHANGE.before)
        steps: list[CommitStep] = []
        async with bench.inverter(variants[VARIANT], None) as inverter:
            inverter.on_step = steps.append
            with pytest.raises(Rejected):
                await inverter.apply(ScheduleRequest(charge=[WindowRequest(start="05:00", end="05:00")]))
        assert steps == ["checking"]

    benches.run(work)


@pytest.mark.parametrize("fault", [None, "write_ignored"], ids=["taken", "not_taken"])
def test_a_watcher_that_raises_changes_neither_what_is_sent_nor_how_it_ends(
    benches: CaseBenches, variants: dict[str, RegisterMap], caplog: pytest.LogCaptureFixture, fault: str | None
) -> None:
    def fails(step: CommitStep) -> None:
        raise RuntimeError(f"watching {step}")

    async def commit(bench: CaseBench, watcher: Callable[[CommitStep], None] | None) -> tuple[str, object, object]:
        await bench.hold(CHANGE.before)
        if fault is not None:
            await bench.remote.fault(fault, count=None, touches=CHARGE[0].start)
        end = "taken"
        async with bench.inverter(variants[VARIANT], None) as inverter:
            inverter.on_step = watcher
            try:
                await CHANGE.ask(inverter)
            except NotTaken:
                end = "not taken"
        seen = await bench.seen()
        writes = [one for one in sent(seen.requests) if one[0] in WRITES]
        return end, writes if fault is not None else sent(seen.requests), await bench.memory()

    async def work(bench: CaseBench) -> None:
        assert await commit(bench, fails) == await commit(bench, None)

    with caplog.at_level(logging.ERROR, logger=commit_steps.__name__):
        benches.run(work)
    assert "watching writing" in caplog.text
