"""Changes of the schedule: commits, the monitor that compares, what is stored over restarts, and the activity log."""

from .activity_log import ActivityLog
from .clock_keeper import ClockKeeper
from .commit_fault import COMMIT_FAULTS, commit_fault, held_text
from .commit_stage import CommitStage, CommitStages, StageName
from .commits import Commits, OrderReplaced
from .deadline import Deadline
from .drafts import Drafts, NoDraft
from .earlier_schedule import EarlierSchedule, NothingBefore
from .monitor import ScheduleMonitor
from .orders import Orders, OrderWork
from .shielded import shielded
from .status import Failure, ScheduleEvent, ScheduleState, ScheduleStatus
from .stopped_charge import StoppedCharge
from .storage import Storage

__all__ = [
    "COMMIT_FAULTS",
    "ActivityLog",
    "ClockKeeper",
    "CommitStage",
    "CommitStages",
    "Commits",
    "Deadline",
    "Drafts",
    "EarlierSchedule",
    "Failure",
    "NoDraft",
    "NothingBefore",
    "OrderReplaced",
    "OrderWork",
    "Orders",
    "ScheduleEvent",
    "ScheduleMonitor",
    "ScheduleState",
    "ScheduleStatus",
    "StageName",
    "StoppedCharge",
    "Storage",
    "commit_fault",
    "held_text",
    "shielded",
]
