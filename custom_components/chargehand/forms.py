"""What several forms have in common."""

from typing import Literal

from homeassistant.helpers import selector


def box(
    low: float, high: float, unit: str | None = None, *, step: float | Literal["any"] = 1
) -> selector.NumberSelector:
    """A field for a number that is typed."""
    config = selector.NumberSelectorConfig(min=low, max=high, step=step, mode=selector.NumberSelectorMode.BOX)
    if unit is not None:
        config["unit_of_measurement"] = unit
    return selector.NumberSelector(config)
