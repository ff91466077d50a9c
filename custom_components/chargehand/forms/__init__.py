"""The forms of the user interface."""

from .address import host_errors
from .fields import box, control_schema
from .options_flow import ChargehandOptionsFlow

__all__ = ["ChargehandOptionsFlow", "box", "control_schema", "host_errors"]
