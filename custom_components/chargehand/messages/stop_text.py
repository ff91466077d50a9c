"""What became of a charge that was to be stopped, or started again, in words."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from homeassistant.core import callback

from .house_time import moment_text
from .order_report import TRIES_REPORTED
from .texts import ended, sentence, text


@dataclass(frozen=True, kw_only=True, slots=True)
class Message:
    """A title and a message."""

    title: str
    message: str

    def as_dict(self) -> dict[str, Any]:
        """Return the same as an action answers it."""
        return {"title": self.title, "message": self.message}


@callback
def stopped_text(*, written: bool, removed: bool, failed: int) -> Message:
    """Return how a charge was stopped; `removed`: its windows were taken off, since nothing disarms them.

    `failed`: how many tries have failed before.
    """
    if not written:
        return Message(title=_text("stop_nothing_title"), message=_sentence("stop_nothing"))
    return Message(
        title=_text("stop_done_title"),
        message=_sentence("stop_removed" if removed else "stop_disarmed") + _tried(failed),
    )


@callback
def not_stopped_text(why: str, until: datetime | None) -> Message:
    """Return why a charge is not stopped; `until`: how long that is tried again, None: not at all."""
    return Message(title=_text("stop_failed_title"), message=_not_done("stop", why, until))


@callback
def resumed_text(*, charges: bool, written: bool, windows: bool, failed: int) -> Message:
    """Return whether a schedule charges again; `windows`: whether it has charge windows."""
    if written:
        return Message(title=_text("resume_done_title"), message=_sentence("resume_done") + _tried(failed))
    if charges:
        return Message(title=_text("resume_armed_title"), message=_sentence("resume_armed"))
    return Message(title=_text("resume_nothing_title"), message=charging_text(charges=False, windows=windows))


@callback
def not_resumed_text(why: str, until: datetime | None) -> Message:
    """Return why a charge is not started again; `until` as above."""
    return Message(title=_text("resume_failed_title"), message=_not_done("resume", why, until))


@callback
def charging_text(*, charges: bool, windows: bool) -> str:
    """Return whether a schedule charges, and what it takes where it does not."""
    if charges:
        return _sentence("resume_armed")
    return _sentence("resume_disarmed" if windows else "resume_removed")


def _not_done(what: str, why: str, until: datetime | None) -> str:
    why = ended(why)
    if until is None:
        return _sentence(f"{what}_failed", why=why)
    return _sentence(f"{what}_waits", why=why, until=moment_text(until))


def _tried(failed: int) -> str:
    # After more, the report of the order says so.
    return f" {_sentence('took_tries', tries=str(failed + 1))}" if 0 < failed < TRIES_REPORTED else ""


def _sentence(key: str, **values: str) -> str:
    return sentence(f"charge_{key}", **values)


def _text(key: str) -> str:
    return text(f"charge_{key}")
