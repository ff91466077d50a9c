"""How far a commit is, for whoever watches it. What a watcher does changes nothing of what is written."""

import logging
from collections.abc import Callable
from enum import StrEnum

_LOGGER = logging.getLogger(__name__)


class CommitStep(StrEnum):
    """What a commit does just now."""

    CHECKING = "checking"
    """It reads what is there and decides; nothing has been sent."""

    WRITING = "writing"
    READING_BACK = "reading_back"


type Watcher = Callable[[CommitStep], None]
"""Takes each step as it begins. It must not wait for anything."""


class CommitSteps:
    """The steps of one commit, told to a watcher as they begin."""

    def __init__(self, watcher: Watcher | None = None) -> None:
        """Begin with nothing told. None: nobody watches."""
        self._watcher = watcher
        self._step: CommitStep | None = None
        self._written = False

    def reads(self) -> None:
        """Take note that the image is about to be read."""
        self._begin(CommitStep.READING_BACK if self._written else CommitStep.CHECKING)

    def writes(self) -> None:
        """Take note that a write request is about to be sent."""
        self._written = True
        self._begin(CommitStep.WRITING)

    def _begin(self, step: CommitStep) -> None:
        if step is self._step:
            return
        self._step = step
        if self._watcher is None:
            return
        try:
            self._watcher(step)
        except Exception:
            # A commit that is cut off here would leave half a schedule, so whoever only watches cannot stop it.
            _LOGGER.exception("A watcher of a commit failed at %s", step)
