"""What a commit works with: the registers, what may be written and how patiently, and why a change did not take."""

from collections.abc import Collection
from dataclasses import dataclass, field
from typing import Protocol

from ..modbus import LineError
from ..reasons import Reason
from ..registers import Address, WritesAround
from .frames import Frame, FrameRules
from .image import Image, Masks
from .stages import Stages

type Why = Reason | LineError
"""Why a change did not take, as far as it is known."""

NOT_SHOWN = Reason(key="not_shown")
"""A write was answered as done, but reading back does not show it."""


class ScheduleRegisters(Protocol):
    """Registers of one inverter, over its line. All raise LineError."""

    async def read(self) -> Image:
        """Read the whole image now."""

    async def read_some(self, addresses: Collection[Address]) -> Image:
        """Read these registers now."""

    async def write(self, frame: Frame) -> None:
        """Send one write request."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Patience:
    """How long a commit waits for a write to show before it writes again, in seconds, and how often it tries."""

    settle: float
    """From a write to the first look."""

    answered: float = 6.5
    """For a write that was answered as done: some inverters show it only seconds later."""

    unanswered: float = 1.5
    """For a write without an answer that does not show in what can be read: most likely it never arrived."""

    busy: float = 6.5
    """For an inverter that answers a write by saying that it is busy."""

    tries: int = 3
    """Attempts at a stage that bring it no further."""


@dataclass(frozen=True, kw_only=True, slots=True)
class CommitRules:
    """What may be written, by which stages, what is written around it, and how patiently."""

    frames: FrameRules
    stages: Stages
    patience: Patience
    around: WritesAround = field(default_factory=WritesAround)

    @property
    def masks(self) -> Masks:
        """The bits that are the commit's own in shared registers."""
        return self.frames.masks
