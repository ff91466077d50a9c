"""One commit under one fault in simulated time, and everything that must be true of its end."""

import asyncio
import logging
import random
import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path
from tempfile import TemporaryDirectory
from unittest.mock import patch

from custom_components.chargehand.core.inverter.inverter import Inverter
from custom_components.chargehand.core.modbus import Endpoint, Framing, Gateway, Line, LineError
from custom_components.chargehand.core.registers import RegisterMap, load_map
from custom_components.chargehand.core.schedule import commit_steps
from custom_components.chargehand.core.schedule.commit import NotTaken, Uncertain
from custom_components.chargehand.core.schedule.commit_steps import CommitStep
from custom_components.chargehand.core.schedule.committed import Committed
from custom_components.chargehand.core.schedule.journal import Entry, Verdict
from custom_components.chargehand.core.schedule.receipt import Outcome
from custom_components.chargehand.core.schedule.request import Rejected
from custom_components.chargehand.core.schedule.stages import NotSafely

from .changes import Change
from .device import HOST, PORT, Device, Record
from .faults import Fault
from .kinds import Kind
from .loop import SimulatedLoop
from .map_text import map_text
from .oracle import Act, Memory, acts, armed, effects

FRAMINGS = {"tcp": Framing.TCP, "rtu": Framing.RTU_OVER_TCP}
SETTLE_POLLS = 5
STILL_TO_COME = 10.0
"""Seconds after which nothing of a fault is still on its way."""

NOW = datetime(2026, 1, 15, 12, 0, tzinfo=UTC)


class Untrue(AssertionError):
    """Something is not as it was said to be."""


@dataclass(slots=True)
class Journal:
    """A journal in memory."""

    unfinished: Entry | None = None
    last: Entry | None = None
    """The entry written last, also once it is cleared."""

    async def write(self, entry: Entry) -> None:
        """Keep it, as a file would."""
        self.unfinished = self.last = Entry.from_dict(entry.as_dict())

    async def clear(self) -> None:
        """Forget it."""
        self.unfinished = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Case:
    """A change with a fault at the nth request, once or ever after; no fault at all where it is None."""

    change: Change
    fault: Fault | None = None
    nth: int = 0
    forever: bool = False

    def __str__(self) -> str:
        """Return what it takes to run it again."""
        often = "ever after" if self.forever else "once"
        return (
            f"{self.change.name}: {'no fault' if self.fault is None else f'{self.fault.name} at {self.nth}, {often}'}"
        )


type End = Committed | NotTaken | Uncertain | NotSafely | Rejected | LineError | Killed


@dataclass(slots=True)
class Stage:
    """A kind of inverter, its map and its loop, for one case after another."""

    kind: Kind
    map: RegisterMap
    loop: SimulatedLoop
    device: Device
    journal: Journal = field(default_factory=Journal)
    busy_at_first: bool = False
    """Whether the inverter is busy when a case begins."""

    def run(self, case: Case) -> tuple[str, bool]:
        """Run one case; return how it ended, and whether its fault was met. Raises Untrue."""
        return self.loop.run_until_complete(_run(self, case))

    @contextmanager
    def inverter(self, journal: Journal | None) -> Iterator[Inverter]:
        """Return a new `Inverter` over a new connection, as after a start; as patient as it is in earnest."""
        gateway = Gateway(Endpoint(host=HOST, port=PORT, framing=FRAMINGS[self.kind.framing]))
        rules = self.map.line
        line = Line(gateway, unit=rules.unit, timeout_ms=rules.timeout_ms, pause_ms=rules.pause_ms)
        zone = timezone(timedelta(minutes=-self.kind.ahead))
        try:
            inverter = Inverter(self.map, line, zone, lambda: NOW, journal)
            inverter.on_step = _fail
            yield inverter
        finally:
            gateway.close()


class Killed(Exception):
    """Chargehand was killed in the middle of a commit."""


class WatcherFailed(Exception):
    """What a watcher of a commit raises: the commit must not care."""


def _fail(_step: CommitStep) -> None:
    raise WatcherFailed


logging.getLogger(commit_steps.__name__).setLevel(logging.CRITICAL)


@contextmanager
def stage(kind: Kind, seed: int = 1) -> Iterator[Stage]:
    """Set a kind of inverter up; all chance, the line's own lots among it, follows the seed."""
    chance = random.Random(seed)
    with TemporaryDirectory() as folder:
        path = Path(folder) / "simulated.yaml"
        path.write_text(map_text(kind))
        register_map = load_map(path)
    loop = SimulatedLoop()
    lots = {
        "randbelow": chance.randrange,
        "choice": lambda some: some[chance.randrange(len(some))],
    }
    with patch.multiple(secrets, **lots):
        try:
            yield Stage(kind, register_map, loop, Device(loop, kind))
        finally:
            loop.close()


async def _run(at: Stage, case: Case) -> tuple[str, bool]:
    change, device = case.change, at.device
    device.hold(change.before)
    if at.busy_at_first:
        device.be_busy()
    if case.fault is not None:
        device.order = case.fault.at(case.nth, forever=case.forever)
    at.journal = journal = Journal()
    end = await _commit(at, change, journal)
    await asyncio.sleep(STILL_TO_COME)
    record, memory = device.record, dict(device.memory)
    new = _check_target(at.kind, change, journal.last)
    _check_writes(at.kind, record)
    _check_acted(at.kind, change, record, new, journal.last)
    _check_end(at.kind, case, end, record, memory, journal)
    if isinstance(end, Committed | NotTaken):
        _check_saved(device, record.at_last_read)
    name = type(end).__name__
    if journal.unfinished is not None:
        name += "_" + await _settled(at, case, journal, memory, new)
    return name, record.met


async def _commit(at: Stage, change: Change, journal: Journal) -> End:
    with at.inverter(journal) as inverter:
        work = asyncio.ensure_future(change.ask(inverter))
        at.device.kill = work.cancel
        try:
            return await work
        except asyncio.CancelledError:
            return Killed()
        except (NotTaken, Uncertain, NotSafely, Rejected, LineError) as end:
            return end


def _with_image(change: Change, entry: Entry | None) -> Memory:
    """Return the memory once an entry's target is there; where none was written nothing was to change."""
    return (
        change.before if entry is None else {**change.before, **{at: value for (_, at), value in entry.after.items()}}
    )


def _check_target(kind: Kind, change: Change, entry: Entry | None) -> frozenset[Act]:
    """Check that what was aimed at is what was asked for. Return what acts then."""
    target = _with_image(change, entry)
    if entry is not None and (effects(kind, target) != change.wanted or armed(kind, target) != change.arms):
        raise Untrue(f"asked for {sorted(change.wanted)}, aimed at {sorted(effects(kind, target))}")
    return acts(kind, target)


def _check_writes(kind: Kind, record: Record) -> None:
    """Check that only what a map declares is written, in requests that it allows, and that nobody else's bits change."""
    own, limits = kind.own, {slot.power: slot for slot in kind.slots}
    for write in record.writes:
        if write.values.items() <= kind.commands.items() and len(write.values) == 1:
            continue
        if not write.values.keys() <= own.keys():
            raise Untrue(f"wrote to {sorted(write.values.keys() - own.keys())}, which no map names")
        whole = any(sorted(slot.registers) == sorted(write.values) for slot in kind.slots) and kind.whole
        if len(write.values) > kind.longest and not whole:
            raise Untrue(f"{len(write.values)} registers in one request")
        for address, value in write.values.items():
            foreign = address in record.clamped or any(at == address for _, at in record.hands)
            if not foreign and (slot := limits.get(address)) and not slot.least <= value * slot.scale <= slot.most:
                raise Untrue(f"{value * slot.scale} W written to a window that takes {slot.least} to {slot.most} W")
            others = ~own[address] & 0xFFFF
            # What another hand changes right after the last look cannot be known.
            unseen = any((write.number - ago, address) in record.hands for ago in range(1, 3 if record.repeated else 2))
            if (value ^ write.before[address]) & others and not unseen:
                raise Untrue(f"changed somebody else's bits of {address}: {write.before[address]:04X} to {value:04X}")


def _check_acted(kind: Kind, change: Change, record: Record, new: frozenset[Act], entry: Entry | None) -> None:
    """Check that it acted on windows of one schedule alone after each frame, and went on with those that stay."""
    old = acts(kind, change.before)
    found_there = acts(kind, _with_hands(change, entry, record))
    touched = {address for _, address in record.hands}
    stays = {one for one in old & new if touched.isdisjoint(kind.slots[one.slot].registers)}
    altered = {one.slot for one in old ^ new}
    for acted, strange in record.acted:
        if kind.arming is not None and kind.arming.address in strange:
            # Whoever arms in the middle of a change lets act what is there just then.
            return
        found = {one for one in acted if strange.isdisjoint(kind.slots[one.slot].registers)}
        if not (found <= old or found <= new or found <= found_there):
            raise Untrue(f"it acted on a mixture: {sorted(found)}, from {sorted(old)} to {sorted(new)}")
        if (
            not (strange or record.clamped)
            and not stays <= found
            and all(kind.can_rest(kind.slots[number]) for number in altered)
        ):
            raise Untrue(f"a window that stays as it is was kept from acting: {sorted(stays - found)}")


def _check_end(kind: Kind, case: Case, end: End, record: Record, memory: Memory, journal: Journal) -> None:
    change, seen = case.change, record.at_last_read
    own = kind.own
    match end:
        case Committed():
            # What another hand sets while the last look is at work cannot be known.
            unseen = {at for _, at in record.hands}
            seen = {**seen, **{at: value for (_, at), value in end.image.items() if at in unseen}}
            if effects(kind, seen) != change.wanted or armed(kind, seen) != change.arms:
                raise Untrue(f"confirmed {sorted(change.wanted)}, but it holds {sorted(effects(kind, seen))}")
            if any(value != seen[at] for (_, at), value in end.image.items()):
                raise Untrue("confirmed with another image than the inverter's")
            if record.writes and end.receipt.outcome is not Outcome.CONFIRMED:
                raise Untrue(f"written, and called {end.receipt.outcome}")
            if end.receipt.writes < len(record.writes):
                raise Untrue(f"{len(record.writes)} writes, and the receipt says {end.receipt.writes}")
            if end.receipt.saved != (kind.save is not None and bool(record.writes)):
                raise Untrue(
                    f"{len(record.writes)} writes, and the receipt says that it was saved: {end.receipt.saved}"
                )
        case NotTaken():
            began = _with_hands(change, journal.last, record)
            if any((seen[at] ^ began[at]) & bits for at, bits in own.items()):
                raise Untrue(f"not taken, but {difference(seen, began)}")
        case LineError() | NotSafely() | Rejected():
            if record.writes:
                raise Untrue(f"ended {end!r} before any write, but {len(record.writes)} writes")
        case _:
            pass
    touched = {address for _, address in record.hands} | record.clamped
    for at, value in memory.items():
        others = ~own.get(at, 0) & 0xFFFF
        if at not in touched and (value ^ change.before[at]) & others:
            raise Untrue(f"register {at} was {change.before[at]:04X} and is {value:04X}")
    if isinstance(end, Rejected) and not change.needs_room:
        raise Untrue(f"rejected: {end}")
    if isinstance(end, NotSafely) and kind.safe:
        raise Untrue("there is a safe way, and none was found")
    if isinstance(end, Killed):
        if journal.unfinished is None and record.writes:
            raise Untrue(f"killed after {len(record.writes)} writes, and no journal")
    elif isinstance(end, Uncertain) != (journal.unfinished is not None):
        raise Untrue(f"ended {type(end).__name__}, and the journal is {'kept' if journal.unfinished else 'cleared'}")
    _check_not_given_up(kind, case, end, record)


def _check_saved(device: Device, proven: Memory) -> None:
    """Check that what was proven is what the inverter acts on, now or after its next restart."""
    record = device.record
    if device.kind.save is None or record.deceived:
        return
    touched = {address for _, address in record.hands} | record.clamped
    lost = {at: value for at, value in proven.items() if at in device.kind.own and at not in touched}
    if any((value ^ device.saved[at]) & device.kind.own[at] for at, value in lost.items()):
        raise Untrue(f"proven, but not saved: {difference(device.saved, lost)}")


def _with_hands(change: Change, entry: Entry | None, record: Record) -> Memory:
    """Return the memory as the commit found it: as it was, but for what another hand had set by then."""
    touched = {address for _, address in record.hands}
    found = {} if entry is None else {at: value for (_, at), value in entry.before.items() if at in touched}
    return {**change.before, **found}


def _check_not_given_up(kind: Kind, case: Case, end: End, record: Record) -> None:
    if isinstance(end, Committed | NotSafely | Rejected | Killed):
        return
    if kind.save is not None and kind.save.code is not None:
        return
    if case.fault is None or not record.met:
        raise Untrue(f"no fault was met, and it ended {end!r}")
    # Where what is there cannot be read, nothing is begun.
    if not case.forever and case.fault.passes and not isinstance(end, LineError):
        raise Untrue(f"one such fault can be got over, and it ended {end!r}")


def difference(memory: Memory, wanted: Memory) -> dict[int, tuple[int, int]]:
    """Return the addresses that differ, with what is there and what was wanted."""
    return {at: (memory[at], value) for at, value in wanted.items() if memory[at] != value}


async def _settled(at: Stage, case: Case, journal: Journal, memory: Memory, new: frozenset[Act]) -> str:
    """Return what a later start makes of a commit that could not be proven, once nothing goes wrong any more."""
    device, entry = at.device, journal.unfinished
    assert entry is not None
    device.order = None
    before_writes = len(device.record.writes)
    for _ in range(SETTLE_POLLS):
        with at.inverter(None) as inverter:
            settled = await inverter.settle(entry, may_write=True)
        assert settled is not None
        verdict, image = settled
        if verdict is not Verdict.MIXTURE:
            break
    record, now, own = device.record, device.memory, at.kind.own
    _check_writes(at.kind, record)
    _check_acted(at.kind, case.change, record, new, entry)
    written = any(not write.values.items() <= at.kind.commands.items() for write in record.writes[before_writes:])
    target = _with_image(case.change, entry)
    match verdict:
        case Verdict.UNSAVED:
            # One that never saves cannot be proven to act on anything.
            right = at.kind.save is not None and at.kind.save.code is not None
        case Verdict.AFTER:
            right = not written and not any((now[a] ^ target[a]) & bits for a, bits in own.items())
        case Verdict.BEFORE:
            began = _with_hands(case.change, entry, record)
            right = not any((now[a] ^ began[a]) & bits for a, bits in own.items())
        case Verdict.FOREIGN:
            right = case.fault is not None and case.fault.puts != "nothing" and now == memory and not written
        case _:
            right = False
    if not right:
        raise Untrue(f"settled as {verdict}, with {difference(now, case.change.before)}")
    if any(value != now[a] for (_, a), value in image.items()):
        raise Untrue("settled with another image than the inverter's")
    if verdict in {Verdict.AFTER, Verdict.BEFORE}:
        _check_saved(device, now)
    return verdict
