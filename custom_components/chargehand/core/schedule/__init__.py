"""The schedule: all windows and what arms them, always handled as one whole.

Checks what is asked for, finds safe stages, and commits them with a journal and read-back.
"""

from ..reasons import Reason
from .acting_times import Acting, acting_times
from .change_writer import ChangeWriter
from .clock_setting import may_set_clock
from .commit import NOT_SAVED, SAVE_REFUSED, CommitSession, NotTaken, Uncertain
from .commit_steps import CommitStep, CommitSteps, Watcher
from .commit_terms import CommitRules, Patience, ScheduleRegisters, Why
from .committed import Committed, Effort, committed
from .decision import ChangeRequest, Earlier, Edited, Found, Requested
from .draft import Draft, Place, Settings, window_from_dict
from .frame_sender import Sent
from .frames import Frame, FrameRules, frames
from .image import Image, Masks, bits_of, holds, known_schedule, masks_of, points_of, read_schedule, write_schedule
from .inverter_clock import NoTime, inverter_time, offset_seconds, shift_minutes
from .journal import Entry, Journal, NoJournal, Verdict, arrived, image_as_list, image_from_list, owed
from .number_input import NullType, number_of, shown, whole_of
from .protection import Battery
from .reason_place import place_of
from .receipt import Outcome, Receipt
from .request import Adjustment, Rejected, ScheduleRequest, WindowRequest
from .request_check import check_thought, reasons_against
from .slot_image import LIMITS, limit_of
from .stages import NotSafely, Stages, inactive_stages, one_frame_stages, schedule_stages
from .stopping import ChargeResumed, ChargeStopped, charges
from .windows import DAY, WEEKDAYS, Change, Schedule, Side, Window, changes, days_text, time_text

__all__ = [
    "DAY",
    "LIMITS",
    "NOT_SAVED",
    "SAVE_REFUSED",
    "WEEKDAYS",
    "Acting",
    "Adjustment",
    "Battery",
    "Change",
    "ChangeRequest",
    "ChangeWriter",
    "ChargeResumed",
    "ChargeStopped",
    "CommitRules",
    "CommitSession",
    "CommitStep",
    "CommitSteps",
    "Committed",
    "Draft",
    "Earlier",
    "Edited",
    "Effort",
    "Entry",
    "Found",
    "Frame",
    "FrameRules",
    "Image",
    "Journal",
    "Masks",
    "NoJournal",
    "NoTime",
    "NotSafely",
    "NotTaken",
    "NullType",
    "Outcome",
    "Patience",
    "Place",
    "Reason",
    "Receipt",
    "Rejected",
    "Requested",
    "Schedule",
    "ScheduleRegisters",
    "ScheduleRequest",
    "Sent",
    "Settings",
    "Side",
    "Stages",
    "Uncertain",
    "Verdict",
    "Watcher",
    "Why",
    "Window",
    "WindowRequest",
    "acting_times",
    "arrived",
    "bits_of",
    "changes",
    "charges",
    "check_thought",
    "committed",
    "days_text",
    "frames",
    "holds",
    "image_as_list",
    "image_from_list",
    "inactive_stages",
    "inverter_time",
    "known_schedule",
    "limit_of",
    "masks_of",
    "may_set_clock",
    "number_of",
    "offset_seconds",
    "one_frame_stages",
    "owed",
    "place_of",
    "points_of",
    "read_schedule",
    "reasons_against",
    "schedule_stages",
    "shift_minutes",
    "shown",
    "time_text",
    "whole_of",
    "window_from_dict",
    "write_schedule",
]
