"""Changes of the schedule: commits, the monitor that compares, what is stored over restarts, and the activity log."""

from .activity_log import Diary
from .commits import Commits, NothingBefore
from .monitor import Watch
from .shielded import to_the_end
from .status import Failure, ScheduleEvent, ScheduleStatus
from .storage import Ledger

__all__ = [
    "Commits",
    "Diary",
    "Failure",
    "Ledger",
    "NothingBefore",
    "ScheduleEvent",
    "ScheduleStatus",
    "Watch",
    "to_the_end",
]
