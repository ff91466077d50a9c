"""What a commit answers."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from .request import Adjustment
from .windows import Change, Schedule


class Outcome(StrEnum):
    """How a commit that did not fail ended."""

    CONFIRMED = "confirmed"
    """Written, and the whole image read back equal; and saved, where the inverter has to be told so."""

    UNCHANGED = "unchanged"
    """The inverter held it already: nothing was written."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Receipt:
    """A commit that is proven: what changed, and what it took.

    `registers_written` counts registers of the schedule in write frames; `saved` says that the inverter was told to save and has answered
    that it did; `reads`, `writes` and `retries` count requests; `at` is when it was proven.
    """

    outcome: Outcome
    was: Schedule
    now: Schedule
    """What the inverter held before, and what was read back, in the house's time."""

    changes: tuple[Change, ...]
    registers_written: int
    saved: bool
    registers_read_back: int
    reads: int
    writes: int
    retries: int
    adjusted: tuple[Adjustment, ...]
    seconds: float
    at: datetime
