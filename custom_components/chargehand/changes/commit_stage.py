"""At which stage a commit of the schedule is, for whoever watches it while it happens."""

import logging
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from homeassistant.core import callback
from homeassistant.util import dt as dt_util

from ..core.schedule import CommitStep
from ..messages import text

_LOGGER = logging.getLogger(__name__)


class StageName(StrEnum):
    """The stages of a commit, and its two ends."""

    CHECKING = "checking"
    WRITING = "writing"
    READING_BACK = "reading_back"
    CONFIRMED = "confirmed"
    FAILED = "failed"


AT_WORK = frozenset({StageName.CHECKING, StageName.WRITING, StageName.READING_BACK})


@dataclass(frozen=True, kw_only=True, slots=True)
class CommitStage:
    """A stage of a commit, since when, and what it is in words. `seconds` is what a commit took that is over."""

    stage: StageName
    since: datetime
    seconds: float | None
    text: str


type Listener = Callable[[CommitStage | None], None]
"""Takes the stage that has begun; None when the last commit no longer explains what is known of the schedule."""


class CommitStages:
    """The stage of one inverter's commits, which go on one at a time."""

    def __init__(self) -> None:
        """There was no commit yet."""
        self.now: CommitStage | None = None
        """The stage of the commit that is at work, or the end of the last one; None: there is none to show."""

        self._began = 0.0
        self._listeners: list[Listener] = []

    @callback
    def listen(self, listener: Listener) -> Callable[[], None]:
        """Call `listener` at once with each stage that begins; return how to stop that."""
        self._listeners.append(listener)
        return lambda: self._listeners.remove(listener)

    @callback
    def begin(self) -> None:
        """Take note that a commit begins."""
        self._began = time.monotonic()
        self._put(StageName.CHECKING, text("stage_checking"))

    @callback
    def take_step(self, step: CommitStep) -> None:
        """Take note of what the commit does now."""
        stage = StageName(step)
        if self.now is None or self.now.stage is not stage:
            self._put(stage, text(f"stage_{stage}"))

    @callback
    def confirmed(self, seconds: float, changes: str | None, *, saved: bool) -> None:
        """Take note that a commit was proven after so many seconds; `changes` says what it changed, None: nothing."""
        changed = "stage_saved" if saved else "stage_confirmed"
        key, values = ("stage_unchanged", {}) if changes is None else (changed, {"changes": changes})
        self._put(StageName.CONFIRMED, text(key, seconds=f"{seconds:.1f}", **values), seconds)

    @callback
    def failed(self, why: str) -> None:
        """Take note that a commit was refused or failed."""
        self._put(StageName.FAILED, why, round(time.monotonic() - self._began, 3))

    @callback
    def leave(self) -> None:
        """Show a commit that is over no longer: something else has happened to the schedule since."""
        if self.now is not None and self.now.stage not in AT_WORK:
            self.now = None
            self._tell()

    def _put(self, stage: StageName, words: str, seconds: float | None = None) -> None:
        self.now = CommitStage(stage=stage, since=dt_util.utcnow(), seconds=seconds, text=words)
        self._tell()

    def _tell(self) -> None:
        for listener in list(self._listeners):
            try:
                listener(self.now)
            except Exception:
                # Neither the commit nor the others who watch it depend on one that fails.
                _LOGGER.exception("A listener to the stages of a commit failed")
