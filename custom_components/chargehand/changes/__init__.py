"""Changes of the schedule: commits, the monitor that compares, what is stored over restarts, and the activity log."""

from .activity_log import ActivityLog
from .commits import Commits, NothingBefore
from .monitor import ScheduleMonitor
from .shielded import shielded
from .status import Failure, ScheduleEvent, ScheduleStatus
from .storage import Storage

__all__ = [
    "ActivityLog",
    "Commits",
    "Failure",
    "NothingBefore",
    "ScheduleEvent",
    "ScheduleMonitor",
    "ScheduleStatus",
    "Storage",
    "shielded",
]
