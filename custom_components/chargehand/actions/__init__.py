"""Actions: what users, automations and entities can ask of an inverter."""

from .callers import caller
from .charge_tonight import BETWEEN_SCHEMA, TONIGHT_SCHEMA, charge_tonight
from .clock import set_clock
from .controls import set_control
from .editing import apply_draft, discard_draft, edit_window, follow_drafts
from .failures import committing, translated
from .following_orders import follow_orders
from .putting_back import restore
from .registration import async_setup_actions
from .rehearsing import async_setup_rehearsing
from .schedule import schedule_data

__all__ = [
    "BETWEEN_SCHEMA",
    "TONIGHT_SCHEMA",
    "apply_draft",
    "async_setup_actions",
    "async_setup_rehearsing",
    "caller",
    "charge_tonight",
    "committing",
    "discard_draft",
    "edit_window",
    "follow_drafts",
    "follow_orders",
    "restore",
    "schedule_data",
    "set_clock",
    "set_control",
    "translated",
]
