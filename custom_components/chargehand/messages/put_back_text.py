"""What became of a schedule that was changed elsewhere, in words."""

from collections.abc import Sequence
from datetime import datetime

from homeassistant.core import callback

from ..core.schedule import Change, Schedule
from .change_text import changes_text
from .house_time import moment_text
from .schedule_text import schedule_text
from .stop_text import Message
from .texts import ended, sentence, text


@callback
def foreign_change_text(
    inverter: str, changes: Sequence[Change], held: Schedule, *, due: datetime | None, put_backs: int | None
) -> Message:
    """Return what was changed elsewhere and what comes of it; `due`: when it is put back, `put_backs`: how often today, where that is too often."""
    listed = changes_text(changes, "change_told", "; ")
    parts = [sentence("foreign_changes", inverter=inverter, changes=listed), _holds(held)]
    if due is not None:
        parts.append(sentence("foreign_due", time=moment_text(due)))
    elif put_backs is not None:
        parts.append(sentence("foreign_too_often", count=str(put_backs)))
    return Message(title=text("foreign_title"), message=" ".join([*parts, sentence("foreign_decide")]))


@callback
def late_text(held: Schedule | None, confirmed_since: datetime | None) -> Message:
    """Return that a decision came too late, and what holds instead."""
    parts = [sentence("late"), _holds(held)]
    if confirmed_since is not None:
        parts.append(sentence("late_confirmed", time=moment_text(confirmed_since)))
    return Message(title=text("late_title"), message=" ".join(parts))


@callback
def put_back_text(held: Schedule, *, written: int, put_backs: int | None) -> Message:
    """Return that a schedule is back after so many registers were written; `put_backs`: how often today, if that counts."""
    parts = [_holds(held), sentence("put_back_written", count=str(written)) if written else sentence("put_back_same")]
    if put_backs is not None:
        parts.append(sentence("put_back_today", count=str(put_backs)))
    return Message(title=text("put_back_title"), message=" ".join(parts))


@callback
def not_put_back_text(why: str, held: Schedule | None, until: datetime | None) -> Message:
    """Return why a schedule is not back; `until`: how long that is tried again, None: not at all."""
    why = ended(why)
    if until is not None:
        return Message(
            title=text("put_back_waits_title"), message=sentence("put_back_waits", why=why, until=moment_text(until))
        )
    holds = "" if held is None or schedule_text(held) in why else f"{_holds(held)} "
    return Message(title=text("put_back_failed_title"), message=f"{why} {holds}{sentence('put_back_failed')}")


@callback
def kept_text(held: Schedule) -> Message:
    """Return that the schedule on the inverter is the wanted one from now on."""
    return Message(title=text("kept_title"), message=f"{_holds(held)} {sentence('kept')}")


@callback
def not_kept_text(why: str) -> Message:
    """Return why the schedule on the inverter is not the wanted one yet."""
    return Message(title=text("kept_failed_title"), message=sentence("kept_failed", why=ended(why)))


def _holds(held: Schedule | None) -> str:
    return sentence("foreign_unknown") if held is None else sentence("order_holds", holds=schedule_text(held))
