"""What several forms have in common."""

from typing import Literal

import voluptuous as vol
from homeassistant.helpers import selector

from ..const import CONF_ALLOW_CONTROL, CONF_SET_CLOCK_SECONDS


def box(
    low: float, high: float, unit: str | None = None, *, step: float | Literal["any"] = 1
) -> selector.NumberSelector:
    """Return a field for a number that is typed."""
    config = selector.NumberSelectorConfig(min=low, max=high, step=step, mode=selector.NumberSelectorMode.BOX)
    if unit is not None:
        config["unit_of_measurement"] = unit
    return selector.NumberSelector(config)


def price_box(currency: str) -> selector.NumberSelector:
    """Return a field for a price per kWh."""
    return box(-100, 1000, f"{currency}/kWh", step="any")


def control_schema(*, allowed: bool, clock_seconds: float) -> vol.Schema:
    """Return what Chargehand may write; asked when an inverter is added, and among its options."""
    return vol.Schema(
        {
            vol.Required(CONF_ALLOW_CONTROL, default=allowed): selector.BooleanSelector(),
            vol.Required(CONF_SET_CLOCK_SECONDS, default=clock_seconds): box(0, 3600, "s"),
        }
    )
