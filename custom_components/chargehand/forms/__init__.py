"""The forms of the user interface."""

from .address import host_errors
from .battery_read import battery_read
from .blueprint_files import BlueprintState, put_in_place, shipped_blueprints
from .found_form import BLUEPRINTS, NIGHT_RATE, found_schema, found_text, known_rate, options_found
from .gateway_form import SERIAL_SCHEMA, cleaned_gateway, gateway_schema, map_titles
from .options_flow import ChargehandOptionsFlow
from .plan_forms import FieldRejected

__all__ = [
    "BLUEPRINTS",
    "NIGHT_RATE",
    "SERIAL_SCHEMA",
    "BlueprintState",
    "ChargehandOptionsFlow",
    "FieldRejected",
    "battery_read",
    "cleaned_gateway",
    "found_schema",
    "found_text",
    "gateway_schema",
    "host_errors",
    "known_rate",
    "map_titles",
    "options_found",
    "put_in_place",
    "shipped_blueprints",
]
