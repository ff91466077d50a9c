"""The forms of the user interface."""

from .address import host_errors
from .battery_read import battery_read
from .blueprint_files import BlueprintState, put_in_place, shipped_blueprints
from .connecting_flow import ConnectingFlow
from .found_form import BLUEPRINTS, NIGHT_RATE, found_schema, found_text, known_rate, line_text, options_found, title_of
from .options_flow import ChargehandOptionsFlow
from .plan_forms import FieldRejected

__all__ = [
    "BLUEPRINTS",
    "NIGHT_RATE",
    "BlueprintState",
    "ChargehandOptionsFlow",
    "ConnectingFlow",
    "FieldRejected",
    "battery_read",
    "found_schema",
    "found_text",
    "host_errors",
    "known_rate",
    "line_text",
    "options_found",
    "put_in_place",
    "shipped_blueprints",
    "title_of",
]
