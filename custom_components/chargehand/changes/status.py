"""What is known of the schedule on the inverter, and what can happen to it."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from ..core.schedule import Verdict

DOUBTS = {Verdict.MIXTURE: "doubt_cut_off", Verdict.UNSAVED: "doubt_not_saved"}
"""The texts of why a commit stays unfinished."""


class ScheduleStatus(StrEnum):
    """What is known of the schedule on the inverter."""

    CONFIRMED = "confirmed"
    CHANGING = "changing"
    CHANGED_ELSEWHERE = "changed_elsewhere"
    UNCONFIRMED = "unconfirmed"
    NEVER_CONFIRMED = "never_confirmed"


class ScheduleEvent(StrEnum):
    """What has happened to the schedule."""

    CONFIRMED = "confirmed"
    RESTORED = "restored"
    CHANGED_ELSEWHERE = "changed_elsewhere"
    UNCERTAIN = "uncertain"
    ORDER_DONE = "order_done"
    ORDER_FAILED = "order_failed"
    ORDER_EXPIRED = "order_expired"
    DRAFT_FAILED = "draft_failed"
    DATA_LOGGER_WROTE = "data_logger_wrote"


@dataclass(frozen=True, kw_only=True, slots=True)
class ScheduleState:
    """The schedule's status, since when, and by what it came about."""

    status: ScheduleStatus
    since: datetime | None = None
    """None while nothing was found since the start."""

    by: str | None = None
    what: str | None = None
    """What a change of our own or another hand's has made of the schedule, or why that is not known, in words."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Failure:
    """A change of the schedule that was refused or failed: the error's key and text, when, and who asked."""

    key: str
    text: str
    at: datetime
    by: str
