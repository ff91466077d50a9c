"""A commit that is proven, with its receipt."""

from dataclasses import dataclass
from datetime import datetime

from .commit import Taken
from .decision import Found, Target
from .image import Image, read_schedule
from .receipt import Outcome, Receipt
from .windows import Schedule, changes


@dataclass(frozen=True, kw_only=True, slots=True)
class Effort:
    """What a commit took: requests, registers read back at its end, and seconds."""

    reads: int
    writes: int
    retries: int
    registers_read_back: int
    seconds: float


@dataclass(frozen=True, kw_only=True, slots=True)
class Committed:
    """A commit that is proven: the receipt for the user, and what the inverter now holds."""

    receipt: Receipt
    before: Image
    schedule: Schedule
    image: Image
    shift: int
    """Minutes that the inverter's clock is meant to be ahead of the house's: one figure for the whole commit."""


def committed(found: Found, target: Target, taken: Taken, effort: Effort, at: datetime) -> Committed:
    """Return what a commit came to; `at` is when it was proven."""
    now = read_schedule(found.points, taken.image, found.shift)
    written = taken.registers_written > 0 or taken.saved
    receipt = Receipt(
        outcome=Outcome.CONFIRMED if written else Outcome.UNCHANGED,
        was=found.schedule,
        now=now,
        changes=changes(found.schedule, now),
        registers_written=taken.registers_written,
        saved=taken.saved,
        registers_read_back=effort.registers_read_back if written else 0,
        reads=effort.reads,
        writes=effort.writes,
        retries=effort.retries,
        adjusted=target.adjusted,
        seconds=round(effort.seconds, 3),
        at=at,
    )
    return Committed(receipt=receipt, before=found.image, schedule=now, image=taken.image, shift=found.shift)
