"""Why a plan is as it is, in numbers."""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum


class ReasonKey(StrEnum):
    """What a plan does."""

    CHARGE = "charge"
    HOLD = "hold"
    """Its windows only keep what is stored for dearer hours."""
    NOT_WORTH_IT = "not_worth_it"
    """Energy is lacking in dear hours, and to charge for it costs as much."""
    NO_NEED = "no_need"
    """What is stored and the roof do for the dear hours."""


class HeldBack(StrEnum):
    """What kept a plan from charging more."""

    NOTHING = "nothing"
    CAPACITY = "capacity"
    POWER = "power"
    WINDOW_TOO_SHORT = "window_too_short"
    RESERVE = "reserve"
    """Before it serves the house, a charge must lift the battery to its reserve: that costs more than the rest saves."""
    NOT_WORTH_IT = "not_worth_it"


@dataclass(frozen=True, kw_only=True, slots=True)
class Reason:
    """Numbers behind a plan. Prices per kWh, energies in kWh, levels in %."""

    key: ReasonKey
    held_back: HeldBack
    day: date
    """The local date to which most of the coming 24 hours belong."""
    tomorrow: bool
    """Whether that is not the date of the plan's start."""
    need_kwh: float
    """Expected load of that date, as far as the horizon covers it."""
    solar_kwh: float
    level: float
    """At the start."""
    stop_level: float
    """The plan's target level."""
    reached_level: float
    """Expected at the end of the window with that level."""
    grid_charge_kwh: float
    """Expected, at the meter."""
    buy_now: float
    """Mean price of the charge; of the cheapest step where there is none."""
    buy_later: float
    """Mean price of what need not be bought in the dear hours of the coming day; of the dearest step where there is nothing."""
    saving: float
