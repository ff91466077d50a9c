"""What is begun while something earlier is open, and what is not begun at all."""

from pathlib import Path

import pytest

from custom_components.chargehand.core.registers import RegisterMap, load_map
from custom_components.chargehand.core.schedule.commit import NotTaken, Uncertain
from custom_components.chargehand.core.schedule.journal import Verdict
from custom_components.chargehand.core.schedule.stages import NotSafely
from tests.bench.teasel import CHARGE

from .changes import ARMED, BEFORE, Window, changes_on, edited, holding
from .paper import Paper
from .stand import Stand, Stands
from .truth import same
from .variants import write_variant

pytestmark = pytest.mark.usefixtures("socket_enabled")


def test_what_cannot_be_done_safely_is_not_begun(stands: Stands, tmp_path: Path) -> None:
    """Register by register, with nothing to disarm by, and no power low enough to do nothing."""
    register_map = load_map(write_variant("bare_single", tmp_path, least_power=1))

    async def ask(stand: Stand) -> None:
        (change,) = (one for one in changes_on("bare_single") if one.name == "one_window")
        await stand.hold(change.before)
        paper = Paper(tmp_path / "journal.json")
        async with stand.inverter(register_map, paper) as inverter:
            with pytest.raises(NotSafely):
                await change.ask(inverter)
        assert not (await stand.seen()).writes
        assert same(await stand.memory(), change.before)
        assert paper.read() is None

    stands.run(ask)


ROUND: Window = (0, 2401, 97, 111)
ODD: Window = (2231, 3611, 89, 37)
"""One register reaches to blank the first one's times, four the other's."""


def test_putting_back_passes_through_nothing_that_looks_like_somebody_elses(stands: Stands, tmp_path: Path) -> None:
    """Three registers a write: on the way there the window is blanked by its power, on the way back its times would do."""
    register_map = load_map(write_variant("bare_four", tmp_path, longest_write=3))
    before = holding(ARMED, (ROUND, *BEFORE[1:]))

    async def ask(stand: Stand) -> None:
        await stand.hold(before)
        paper = Paper(tmp_path / "journal.json")
        await stand.bench.fault("no_answer", nth=3, count=None, only="write")
        async with stand.inverter(register_map, paper) as inverter:
            with pytest.raises(Uncertain):
                await edited(ODD)(inverter)
        memory = await stand.memory()
        half = (ODD[0], 0, ODD[2], ROUND[3])
        assert tuple(memory[CHARGE[0].start + at] for at in range(4)) == half, (
            "blanked by its power, half of the times new"
        )
        entry = paper.read()
        assert entry is not None
        await stand.bench.clear_faults()
        await stand.bench.fault("no_answer", nth=2, count=None, only="write")
        async with stand.inverter(register_map, paper) as inverter:
            verdict, _ = await inverter.settle(entry, may_write=True)
        await stand.bench.clear_faults()
        if verdict is Verdict.MIXTURE:
            async with stand.inverter(register_map, paper) as inverter:
                verdict, _ = await inverter.settle(entry, may_write=True)
        assert verdict is Verdict.BEFORE
        assert same(await stand.memory(), before)

    stands.run(ask)


def test_a_commit_begun_upon_half_of_another_does_not_call_that_half_the_earlier_schedule(
    stands: Stands, variants: dict[str, RegisterMap], tmp_path: Path
) -> None:
    """The first ends uncertain; the second is refused outright; what was before both must not be forgotten."""
    register_map = variants["armed_four"]
    (first,) = (one for one in changes_on("armed_four") if one.name == "charge_windows")

    async def ask(stand: Stand) -> None:
        await stand.hold(first.before)
        paper = Paper(tmp_path / "journal.json")
        await stand.bench.fault("no_answer", nth=3, count=None, only="write")
        async with stand.inverter(register_map, paper) as inverter:
            with pytest.raises(Uncertain):
                await first.ask(inverter)
        memory = await stand.memory()
        assert not same(memory, first.before)
        assert not same(memory, first.after)
        await stand.bench.clear_faults()
        await stand.bench.fault("exception", code=2, only="write")
        async with stand.inverter(register_map, paper) as inverter:
            try:
                await first.ask(inverter)
            except NotTaken:
                assert same(await stand.memory(), first.before), (
                    "called the earlier schedule, and it is half of a change"
                )
            except Uncertain:
                entry = paper.read()
                assert entry is not None, "what was before both is not forgotten"
                verdict, _ = await inverter.settle(entry, may_write=True)
                assert verdict is Verdict.BEFORE
                assert same(await stand.memory(), first.before)

    stands.run(ask)
