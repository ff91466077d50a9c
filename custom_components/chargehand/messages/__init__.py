"""What users read: schedules in words, errors, and repair issues."""

from .before_text import before_not_asked, before_text
from .bullets import bullets
from .change_text import activity_text, activity_texts, changes_text, clock_text, foreign_text
from .day_text import order_status_text, schedule_status_text
from .house_time import load_owner_profile, minute_text, moment_text
from .issues import (
    CHANGED,
    GATEWAY_SHARED,
    GATEWAY_TAKEN,
    KINDS,
    LOGGER_PORT,
    LOGGER_REFUSED,
    MAP_INVALID,
    NO_CHEAP_HOURS,
    NO_MAP_TRIGGER,
    OF_LINE,
    REGISTERS_REFUSED,
    SUMMER_TIME,
    TWO_MASTERS,
    UNCERTAIN,
    WEAR,
    clear_issue,
    raise_issue,
)
from .line_faults import line_fault, line_fault_text, load_line_fault_text
from .logger_text import logger_registers_text, logger_write_text
from .map_mistakes import map_doubts, map_mistakes
from .night_report_text import NightReport, lowest_level_report, night_report
from .order_report import TRIES_REPORTED, OrderReport, order_report
from .order_text import interrupted_text, order_text
from .plan_text import plan_text, unknown_house_text
from .planning_faults import planning_text
from .put_back_text import (
    foreign_change_text,
    kept_text,
    late_text,
    not_kept_text,
    not_put_back_text,
    put_back_text,
)
from .reason_texts import reason_text, why_text
from .room_text import room_text
from .schedule_text import charge_text, charged_text, schedule_text, set_elsewhere_texts
from .setting_names import name_text
from .stop_text import Message, charging_text, not_resumed_text, not_stopped_text, resumed_text, stopped_text
from .texts import either_text, ended, load_texts, sentence, text
from .tonight_text import tonight_done, tonight_done_later, tonight_failed, tonight_waits

__all__ = [
    "CHANGED",
    "GATEWAY_SHARED",
    "GATEWAY_TAKEN",
    "KINDS",
    "LOGGER_PORT",
    "LOGGER_REFUSED",
    "MAP_INVALID",
    "NO_CHEAP_HOURS",
    "NO_MAP_TRIGGER",
    "OF_LINE",
    "REGISTERS_REFUSED",
    "SUMMER_TIME",
    "TRIES_REPORTED",
    "TWO_MASTERS",
    "UNCERTAIN",
    "WEAR",
    "Message",
    "NightReport",
    "OrderReport",
    "activity_text",
    "activity_texts",
    "before_not_asked",
    "before_text",
    "bullets",
    "changes_text",
    "charge_text",
    "charged_text",
    "charging_text",
    "clear_issue",
    "clock_text",
    "either_text",
    "ended",
    "foreign_change_text",
    "foreign_text",
    "interrupted_text",
    "kept_text",
    "late_text",
    "line_fault",
    "line_fault_text",
    "load_line_fault_text",
    "load_owner_profile",
    "load_texts",
    "logger_registers_text",
    "logger_write_text",
    "lowest_level_report",
    "map_doubts",
    "map_mistakes",
    "minute_text",
    "moment_text",
    "name_text",
    "night_report",
    "not_kept_text",
    "not_put_back_text",
    "not_resumed_text",
    "not_stopped_text",
    "order_report",
    "order_status_text",
    "order_text",
    "plan_text",
    "planning_text",
    "put_back_text",
    "raise_issue",
    "reason_text",
    "resumed_text",
    "room_text",
    "schedule_status_text",
    "schedule_text",
    "sentence",
    "set_elsewhere_texts",
    "stopped_text",
    "text",
    "tonight_done",
    "tonight_done_later",
    "tonight_failed",
    "tonight_waits",
    "unknown_house_text",
    "why_text",
]
