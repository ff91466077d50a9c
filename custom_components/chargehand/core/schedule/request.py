"""What a user asks for, as it was typed, and what comes of checking it."""

from collections.abc import Sequence
from dataclasses import dataclass

from ..reasons import Reason
from .number_input import NullType
from .windows import Side


@dataclass(frozen=True, kw_only=True, slots=True)
class WindowRequest:
    """A window as it was typed. A limit left out (None) stays as the inverter has it."""

    start: object
    end: object
    current: object = None
    power: object = None
    stop_level: object = None


@dataclass(frozen=True, kw_only=True, slots=True)
class ScheduleRequest:
    """A schedule as it was typed. A side left out (None) stays as it is; windows not listed become unused."""

    charge: Sequence[WindowRequest] | NullType | None = None
    discharge: Sequence[WindowRequest] | NullType | None = None
    armed: bool = True
    override: bool = False
    """Charge although the battery's own limit or its temperature speaks against it."""

    def side(self, side: Side) -> Sequence[WindowRequest] | NullType | None:
        """Return the windows asked for on one side."""
        return self.charge if side is Side.CHARGE else self.discharge


@dataclass(frozen=True, kw_only=True, slots=True)
class Adjustment:
    """Where Chargehand applies another limit than was requested. `why` is `rounded`, `watts_to_amperes`, `amperes_to_watts` or `battery_limit`."""

    what: str
    requested: str
    applied: str
    why: str


class Rejected(Exception):
    """The schedule cannot be on this inverter. Every reason is listed; nothing was sent.

    `momentary`: it could, if the battery were in another state, such as less cold.
    """

    def __init__(self, reasons: Sequence[Reason], *, momentary: bool = False) -> None:
        """Keep all reasons."""
        super().__init__("; ".join(str(reason) for reason in reasons))
        self.reasons = tuple(reasons)
        self.momentary = momentary
