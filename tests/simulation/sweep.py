"""Every fault at every request of every sort of change on a kind of inverter."""

import random
from collections import Counter
from dataclasses import dataclass, field

from .case import Case, Stage, Untrue, stage
from .changes import Change, draw_changes
from .faults import faults_on
from .kinds import Kind

LONGEST = 400
"""Requests that no commit takes: a sweep that gets there has lost its way."""

MOST = 12
"""Untrue cases after which a sweep ends."""


@dataclass(slots=True)
class Swept:
    """What came of a sweep."""

    ends: Counter[str] = field(default_factory=Counter)
    untrue: list[str] = field(default_factory=list)

    @property
    def cases(self) -> int:
        """Commits that were simulated."""
        return self.ends.total() + len(self.untrue)


def sweep(kind: Kind, seed: int, *, most: int | None = None) -> Swept:
    """Simulate all changes of a kind without a fault and with each; `most` cases at most, drawn evenly."""
    swept = Swept()
    chance = random.Random(seed)
    with stage(kind, seed) as at:
        changes = list(draw_changes(kind, chance))
        share = None if most is None else max(most // len(changes), 1)
        for change in changes:
            _sweep_change(at, change, swept, chance, share)
            if len(swept.untrue) >= MOST:
                break
    return swept


def _sweep_change(at: Stage, change: Change, swept: Swept, chance: random.Random, share: int | None) -> None:
    if _run(at, Case(change=change), swept) is None:
        return
    lengths = at.device.record.requests
    if share is None:
        for fault in faults_on(at.kind):
            for forever in (False, True):
                for nth in range(1, LONGEST):
                    met = _run(at, Case(change=change, fault=fault, nth=nth, forever=forever), swept)
                    if not met or len(swept.untrue) >= MOST:
                        break
        return
    faults = list(faults_on(at.kind))
    for _ in range(share - 1):
        case = Case(
            change=change,
            fault=chance.choice(faults),
            nth=chance.randint(1, lengths + 2),
            forever=chance.random() < 0.4,
        )
        _run(at, case, swept)


def _run(at: Stage, case: Case, swept: Swept) -> bool | None:
    """Run a case. Return whether its fault was met, None where something was untrue."""
    try:
        end, met = at.run(case)
    except Untrue as fault:
        swept.untrue.append(f"{at.kind.name}: {case}: {fault}")
        return None
    swept.ends[end] += 1
    return met
