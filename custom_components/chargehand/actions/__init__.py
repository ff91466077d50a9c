"""Actions: what users, automations and entities can ask of an inverter."""

from .answers import reason_data
from .callers import caller
from .charge_tonight import BETWEEN_SCHEMA, TONIGHT_SCHEMA, charge_tonight
from .clock import set_clock
from .controls import set_control
from .editing import apply_draft, discard_draft, edit_window, follow_drafts
from .entries import charge_points, entry_of, running
from .failures import committing, refused, translated
from .following_orders import follow_orders
from .permission import may_control
from .plan_charge import PLAN_SCHEMA, kilowatts, plan_inputs, planning
from .putting_back import restore
from .registration import async_setup_actions
from .schedule import WINDOWS_SCHEMA, schedule_data, window_data

__all__ = [
    "BETWEEN_SCHEMA",
    "PLAN_SCHEMA",
    "TONIGHT_SCHEMA",
    "WINDOWS_SCHEMA",
    "apply_draft",
    "async_setup_actions",
    "caller",
    "charge_points",
    "charge_tonight",
    "committing",
    "discard_draft",
    "edit_window",
    "entry_of",
    "follow_drafts",
    "follow_orders",
    "kilowatts",
    "may_control",
    "plan_inputs",
    "planning",
    "reason_data",
    "refused",
    "restore",
    "running",
    "schedule_data",
    "set_clock",
    "set_control",
    "translated",
    "window_data",
]
