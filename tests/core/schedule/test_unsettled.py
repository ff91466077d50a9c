"""What is begun while something earlier is open, and what is not begun at all."""

from pathlib import Path

import pytest

from custom_components.chargehand.core.registers import RegisterMap, load_map
from custom_components.chargehand.core.schedule.commit import NotTaken, Uncertain
from custom_components.chargehand.core.schedule.journal import Verdict
from custom_components.chargehand.core.schedule.stages import NotSafely
from tests.bench.teasel import CHARGE

from .case_bench import CaseBench, CaseBenches
from .changes import ARMED, BEFORE, Window, changes_on, edited, holding
from .journal_file import JournalFile
from .outcome_checks import same
from .variants import write_variant

pytestmark = pytest.mark.usefixtures("socket_enabled")


def test_what_cannot_be_done_safely_is_not_begun(benches: CaseBenches, tmp_path: Path) -> None:
    """Register by register, with nothing to disarm by, and no power low enough to do nothing."""
    register_map = load_map(write_variant("bare_single", tmp_path, least_power=1))

    async def ask(bench: CaseBench) -> None:
        (change,) = (one for one in changes_on("bare_single") if one.name == "one_window")
        await bench.hold(change.before)
        journal = JournalFile(tmp_path / "journal.json")
        async with bench.inverter(register_map, journal) as inverter:
            with pytest.raises(NotSafely):
                await change.ask(inverter)
        assert not (await bench.seen()).writes
        assert same(await bench.memory(), change.before)
        assert journal.read() is None

    benches.run(ask)


ROUND: Window = (0, 2401, 97, 111)
ODD: Window = (2231, 3611, 89, 37)
"""One register reaches to blank the first one's times, four the other's."""


def test_putting_back_passes_through_nothing_that_looks_like_somebody_elses(
    benches: CaseBenches, tmp_path: Path
) -> None:
    """Three registers a write: on the way there the window is blanked by its power, on the way back its times would do."""
    register_map = load_map(write_variant("bare_four", tmp_path, longest_write=3))
    before = holding(ARMED, (ROUND, *BEFORE[1:]))

    async def ask(bench: CaseBench) -> None:
        await bench.hold(before)
        journal = JournalFile(tmp_path / "journal.json")
        await bench.remote.fault("no_answer", nth=3, count=None, only="write")
        async with bench.inverter(register_map, journal) as inverter:
            with pytest.raises(Uncertain):
                await edited(ODD)(inverter)
        memory = await bench.memory()
        half = (ODD[0], 0, ODD[2], ROUND[3])
        assert tuple(memory[CHARGE[0].start + at] for at in range(4)) == half, (
            "blanked by its power, half of the times new"
        )
        entry = journal.read()
        assert entry is not None
        await bench.remote.clear_faults()
        await bench.remote.fault("no_answer", nth=2, count=None, only="write")
        async with bench.inverter(register_map, journal) as inverter:
            verdict, _ = await inverter.settle(entry, may_write=True)
        await bench.remote.clear_faults()
        if verdict is Verdict.MIXTURE:
            async with bench.inverter(register_map, journal) as inverter:
                verdict, _ = await inverter.settle(entry, may_write=True)
        assert verdict is Verdict.BEFORE
        assert same(await bench.memory(), before)

    benches.run(ask)


def test_a_commit_begun_upon_half_of_another_does_not_call_that_half_the_earlier_schedule(
    benches: CaseBenches, variants: dict[str, RegisterMap], tmp_path: Path
) -> None:
    """The first ends uncertain; the second is refused outright; what was before both must not be forgotten."""
    register_map = variants["armed_four"]
    (first,) = (one for one in changes_on("armed_four") if one.name == "charge_windows")

    async def ask(bench: CaseBench) -> None:
        await bench.hold(first.before)
        journal = JournalFile(tmp_path / "journal.json")
        await bench.remote.fault("no_answer", nth=3, count=None, only="write")
        async with bench.inverter(register_map, journal) as inverter:
            with pytest.raises(Uncertain):
                await first.ask(inverter)
        memory = await bench.memory()
        assert not same(memory, first.before)
        assert not same(memory, first.after)
        await bench.remote.clear_faults()
        await bench.remote.fault("exception", code=2, only="write")
        async with bench.inverter(register_map, journal) as inverter:
            try:
                await first.ask(inverter)
            except NotTaken:
                assert same(await bench.memory(), first.before), (
                    "called the earlier schedule, and it is half of a change"
                )
            except Uncertain:
                entry = journal.read()
                assert entry is not None, "what was before both is not forgotten"
                verdict, _ = await inverter.settle(entry, may_write=True)
                assert verdict is Verdict.BEFORE
                assert same(await bench.memory(), first.before)

    benches.run(ask)
