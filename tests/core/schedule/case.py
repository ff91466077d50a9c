"""One commit under one fault, and everything that must be true of its end."""

import asyncio
from dataclasses import dataclass

from custom_components.chargehand.core.modbus import LineError
from custom_components.chargehand.core.registers import RegisterMap
from custom_components.chargehand.core.schedule.commit import NotTaken, Uncertain
from custom_components.chargehand.core.schedule.committed import Committed
from custom_components.chargehand.core.schedule.journal import Entry, Verdict
from custom_components.chargehand.core.schedule.receipt import Outcome
from tests.bench.teasel import CONTROL_WORD

from .case_bench import CaseBench, Seen, settle
from .changes import Change, Registers
from .journal_file import JournalFile
from .outcome_checks import OutcomeWrong, check_acted, check_addresses, difference, image_of, same
from .request_faults import RequestFault

RUNS = 5
"""A commit may be given up for want of time where other work keeps the machine from answering within 100 ms; not every time."""


BREATH = 0.5
"""Seconds to such another run."""


class GivenUp(OutcomeWrong):
    """The reported end is true, but a commit should have got over this."""


type End = Committed | NotTaken | Uncertain | LineError


@dataclass(frozen=True, kw_only=True, slots=True)
class Case:
    """A change on a map, with a request_fault at the nth request: once, or at every request from there on."""

    change: Change
    register_map: RegisterMap
    request_fault: RequestFault
    nth: int
    forever: bool

    def __str__(self) -> str:
        """What it takes to run it again."""
        often = "ever after" if self.forever else "once"
        return f"{self.register_map.id} {self.change.name}: {self.request_fault.name} at {self.nth}, {often}"


@dataclass(frozen=True, kw_only=True, slots=True)
class Result:
    """Whether the request_fault was met at all, how the commit ended, and what was settled afterwards."""

    met: bool
    end: str
    writes: int


async def run(case: Case, bench: CaseBench) -> Result:
    """Run one case. Raises OutcomeWrong."""
    for _ in range(RUNS - 1):
        try:
            return await _run(case, bench)
        except GivenUp:
            await asyncio.sleep(BREATH)
    return await _run(case, bench)


async def _run(case: Case, bench: CaseBench) -> Result:
    change, request_fault = case.change, case.request_fault
    await bench.hold(change.before)
    count = None if case.forever else 1
    await bench.remote.fault(request_fault.kind, nth=case.nth, count=count, **request_fault.order)
    journal = JournalFile(bench.folder / "journal.json")
    end = await _commit(case, bench, journal)
    await asyncio.sleep(request_fault.settles_after)
    seen = await bench.seen()
    memory = await bench.memory()
    check_acted(seen.acted, change, request_fault.puts)
    writes = check_addresses(seen.requests, case.register_map)
    _check_end(end, case, seen, memory, journal)
    _check_not_given_up(end, case, seen)
    name = type(end).__name__
    if isinstance(end, Uncertain):
        name += "_" + await _settle(case, bench, journal, memory)
    return Result(met=seen.fault_met, end=name, writes=writes)


async def _commit(case: Case, bench: CaseBench, journal: JournalFile) -> End:
    await journal.clear()
    async with bench.inverter(case.register_map, journal) as inverter:
        try:
            return await case.change.ask(inverter)
        except (NotTaken, Uncertain, LineError) as end:
            return end


def _check_end(end: End, case: Case, seen: Seen, memory: Registers, journal: JournalFile) -> None:
    before, after = _at_last_look(case.change.before, seen, case), _at_last_look(case.change.after, seen, case)
    ours_alone = case.request_fault.puts in {"values", "arming"}
    match end:
        case Committed():
            if not same(memory, after, whole_control=not ours_alone):
                raise OutcomeWrong(f"confirmed, but {difference(memory, after)}")
            if not seen.requests[-1]["fault"] and end.image != image_of(memory, end.image):
                raise OutcomeWrong("confirmed with another image than the inverter's")
            if seen.writes and end.receipt.outcome is not Outcome.CONFIRMED:
                raise OutcomeWrong(f"written, and called {end.receipt.outcome}")
            if end.receipt.writes < len(seen.writes):
                raise OutcomeWrong(f"{len(seen.writes)} writes, and the receipt says {end.receipt.writes}")
        case NotTaken():
            if not same(memory, before, whole_control=not ours_alone):
                raise OutcomeWrong(f"not taken, but {difference(memory, before)}")
        case LineError():
            if seen.writes or not same(memory, before, whole_control=not ours_alone):
                raise OutcomeWrong(f"a fault of the line before any write, but {len(seen.writes)} writes")
    kept = journal.read()
    if isinstance(end, Uncertain) != (kept is not None):
        raise OutcomeWrong(f"ended {type(end).__name__}, and the journal is {'kept' if kept else 'cleared'}")
    if kept is not None:
        _check_entry(kept, case)


def _check_not_given_up(end: End, case: Case, seen: Seen) -> None:
    if isinstance(end, Committed):
        return
    if not seen.fault_met:
        raise GivenUp(f"no fault was met, and it ended {end!r}")
    # Where what is there cannot be read, nothing is begun.
    if not case.forever and case.request_fault.passes and not isinstance(end, LineError):
        raise GivenUp(f"one such fault can be got over, and it ended {end!r}")


def _at_last_look(registers: Registers, seen: Seen, case: Case) -> Registers:
    """These registers, with what another hand put there right after the last request, when nobody looked any more."""
    if not seen.requests or seen.requests[-1]["fault"] != "overwrite":
        return registers
    address, value = case.request_fault.order["address"], case.request_fault.order["value"]
    assert isinstance(address, int)
    assert isinstance(value, int)
    return {**registers, address: value}


def _check_entry(entry: Entry, case: Case) -> None:
    for image, registers in ((entry.before, case.change.before), (entry.after, case.change.after)):
        mask = {CONTROL_WORD: 1}
        if any((value ^ registers[at]) & mask.get(at, 0xFFFF) for (_, at), value in image.items()):
            raise OutcomeWrong("the journal holds other images than those of the commit")


async def _settle(case: Case, bench: CaseBench, journal: JournalFile, memory: Registers) -> str:
    """What a later start makes of a commit that could not be proven, once nothing goes wrong any more."""
    await bench.remote.clear_faults()
    entry = journal.read()
    assert entry is not None
    verdict, image = await settle(bench, case.register_map, entry)
    seen, now = await bench.seen(), await bench.memory()
    check_acted(seen.acted, case.change, case.request_fault.puts)
    check_addresses(seen.requests, case.register_map)
    check_verdict(verdict, case.change, memory, now, seen, foreign=case.request_fault.puts)
    if image != image_of(now, image):
        raise OutcomeWrong("settled with another image than the inverter's")
    return verdict


def check_verdict(
    verdict: Verdict, change: Change, memory: Registers, now: Registers, seen: Seen, *, foreign: str
) -> None:
    """What is there now is what the verdict says; nothing was touched unless it was put back. Raises OutcomeWrong."""
    whole = foreign not in {"values", "arming"}
    match verdict:
        case Verdict.AFTER:
            right = same(now, change.after, whole_control=whole) and not seen.writes
        case Verdict.BEFORE:
            right = same(now, change.before, whole_control=whole)
        case Verdict.MIXTURE:
            raise OutcomeWrong(f"a mixture was left: {difference(now, change.before)}")
        case Verdict.FOREIGN:
            right = foreign != "nothing" and now == memory and not seen.writes
    if not right:
        raise OutcomeWrong(
            f"settled as {verdict}, with {len(seen.writes)} writes, and {difference(now, change.before)}"
        )
