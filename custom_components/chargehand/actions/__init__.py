"""Actions: what users, automations and entities can ask of an inverter."""

from .callers import caller
from .charge_tonight import TONIGHT_SCHEMA, charge_tonight
from .clock import set_clock
from .controls import set_control
from .editing import edit_window
from .failures import committing, translated
from .following_orders import follow_orders
from .schedule import async_setup_actions, restore, schedule_data

__all__ = [
    "TONIGHT_SCHEMA",
    "async_setup_actions",
    "caller",
    "charge_tonight",
    "committing",
    "edit_window",
    "follow_orders",
    "restore",
    "schedule_data",
    "set_clock",
    "set_control",
    "translated",
]
