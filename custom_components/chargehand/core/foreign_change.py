"""What to do about a schedule that was changed elsewhere: report it, and put the confirmed one back after a while unless somebody objects."""

from datetime import datetime, timedelta
from enum import StrEnum


class Step(StrEnum):
    """What is next."""

    CHANGED = "changed"
    """A change that was not reported yet."""

    KEEP = "keep"
    PUT_BACK = "put_back"
    LATE = "late"
    """Somebody decided on a change that no longer stands."""


class ForeignChange:
    """The change that stands, one at a time. It is known by the moment at which it was found."""

    def __init__(self, *, wait: timedelta | None, most: int) -> None:
        """Put back after `wait`, at most so many times a day; None: only report."""
        self._wait = wait
        self._most = most
        self._told: datetime | None = None
        self.due: datetime | None = None
        """When the confirmed schedule is to be put back; None: it is not."""

    def see(self, found: datetime | None, put_backs: int, now: datetime) -> Step | None:
        """Return what is next, with `found` of the change that stands, if any, and how often today a schedule was put back."""
        if found is None:
            self.due = None
            return None
        if found != self._told:
            self._told = found
            self.due = now + self._wait if self._wait is not None and put_backs < self._most else None
            return Step.CHANGED
        if self.due is None or now < self.due:
            return None
        self.due = None
        return Step.PUT_BACK if put_backs < self._most else None

    def decide(self, step: Step, on: int, found: datetime | None) -> Step:
        """Return what becomes of somebody's decision `on` a change, as `mark` names it, while the one of `found` stands."""
        if found is None or on != mark(found):
            return Step.LATE
        # Who objects is heard also where the inverter cannot be read just then.
        self.due = None
        return step


def mark(found: datetime) -> int:
    """Return the name of a change for buttons: when it was found, in ms since 1970."""
    return int(found.timestamp() * 1000)
