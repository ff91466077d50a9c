"""What can go wrong at one request on a kind of inverter."""

from collections.abc import Iterator
from dataclasses import dataclass

from .device import Order
from .kinds import Kind

LATE_MS = 1500.0
"""Later than an answer is waited for, earlier than a commit's patience with a write that was answered."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Fault:
    """A fault. `passes`: a commit gets over one of it, once anything could be read."""

    name: str
    kind: str
    passes: bool = True
    code: int = 4
    ms: float = 0.0
    address: int = 0
    value: int = 0
    mask: int = 0xFFFF
    puts: str = "nothing"
    """What it leaves behind that no commit would write: nothing, values (of the schedule), others (of somebody else)."""

    def at(self, nth: int, *, forever: bool) -> Order:
        """Order it at the nth request, or at every one from there on."""
        return Order(
            kind=self.kind,
            nth=nth,
            forever=forever,
            code=self.code,
            ms=self.ms,
            address=self.address,
            value=self.value,
            mask=self.mask,
        )


PLAIN = (
    Fault(name="no answer", kind="no_answer"),
    Fault(name="answer lost", kind="answer_lost"),
    # 1, 2 and 3 say that it will never be taken; the others may pass.
    *(
        Fault(name=f"exception {code}", kind="exception", code=code, passes=code > 3)
        for code in (1, 2, 3, 4, 5, 6, 10, 11)
    ),
    Fault(name="reset", kind="reset"),
    Fault(name="reset after acting", kind="reset_after"),
    Fault(name="wrong id", kind="wrong_id"),
    Fault(name="truncated", kind="truncated"),
    Fault(name="late", kind="late", ms=LATE_MS),
    Fault(name="answer twice", kind="repeat"),
    Fault(name="write ignored", kind="write_ignored"),
    Fault(name="write shows late", kind="write_shows_late", ms=LATE_MS),
    Fault(name="write clamped", kind="write_clamped", passes=False, puts="values"),
)


CRASHES = (
    Fault(name="Chargehand is killed as a request arrives", kind="killed"),
    Fault(name="Chargehand is killed as a request was carried out", kind="killed_after"),
)


def faults_on(kind: Kind) -> Iterator[Fault]:
    """Return all faults that concern a kind, other hands among them."""
    yield from PLAIN
    yield from CRASHES
    if kind.save is not None or kind.lock is not None:
        yield Fault(name="the inverter restarts", kind="restart")
        yield Fault(name="the inverter restarts and Chargehand is killed", kind="both_restart")
    first = kind.charge[0]
    yield Fault(name="a hand sets a power", kind="hand", address=first.power, value=77, puts="values", passes=False)
    if kind.arming is not None:
        low, high = kind.arming.bits
        mask = ((1 << (high - low + 1)) - 1) << low
        for value in (kind.arming.on, kind.arming.others[0]):
            yield Fault(
                name=f"a hand arms by {value}",
                kind="hand",
                address=kind.arming.address,
                value=value << low,
                mask=mask,
                puts="arming",
                passes=False,
            )
    for address, own in kind.own.items():
        if own != 0xFFFF:
            for value in (0, 0xFFFF):
                yield Fault(
                    name=f"a hand sets others' bits to {value:#x}",
                    kind="hand",
                    address=address,
                    value=value,
                    mask=~own & 0xFFFF,
                    puts="others",
                )
