"""Actions: what users, automations and entities can ask of an inverter."""

from .callers import caller
from .clock import set_clock
from .controls import set_control
from .editing import edit_window
from .failures import committing, translated
from .schedule import async_setup_actions, schedule_data

__all__ = [
    "async_setup_actions",
    "caller",
    "committing",
    "edit_window",
    "schedule_data",
    "set_clock",
    "set_control",
    "translated",
]
