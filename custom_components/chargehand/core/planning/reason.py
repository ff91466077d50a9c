"""Why a plan is as it is, in numbers."""

from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum


class ReasonKey(StrEnum):
    """What a plan does."""

    CHARGE = "charge"
    HOLD = "hold"
    """Its windows only keep what is stored for more expensive hours."""
    NOT_WORTH_IT = "not_worth_it"
    """Energy is lacking in expensive hours, and charging for it costs as much."""
    NO_NEED = "no_need"
    """What is stored and the sun do for the expensive hours."""


class HeldBack(StrEnum):
    """What kept a plan from charging more."""

    NOTHING = "nothing"
    CAPACITY = "capacity"
    POWER = "power"
    WINDOW_TOO_SHORT = "window_too_short"
    NO_WINDOW = "no_window"
    """The inverter has none."""
    RESERVE = "reserve"
    """Before it serves the house, a charge must lift the battery to its reserve: that costs more than the rest saves."""
    PRICES = "prices"
    """No hour is so much cheaper than a later one that the battery's losses and wear are paid."""
    NOT_WORTH_IT = "not_worth_it"
    """More would likely cost more than it saves."""


class Covered(StrEnum):
    """How much of the day that a reason names is in the horizon."""

    ALL = "all"
    FROM_NOW = "from_now"
    UNTIL = "until"


@dataclass(frozen=True, kw_only=True, slots=True)
class PricePair:
    """A step of the coming day, and a later one: prices per kWh and aware starts."""

    buy: float
    at: datetime
    later_buy: float
    later_at: datetime


@dataclass(frozen=True, kw_only=True, slots=True)
class PlanReason:
    """Numbers behind a plan. Prices per kWh, energies in kWh, levels in %."""

    key: ReasonKey
    held_back: HeldBack
    day: date
    """The local date to which most of the coming 24 hours belong."""
    tomorrow: bool
    """Whether that is not the date of the plan's start."""
    covered: Covered
    end: datetime
    """Of the horizon."""
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
    lack_kwh: float
    """Expected to be bought in hours for which a charge would pay by their prices."""
    buy_now: float | None
    """Mean price of the charge; None where there is none."""
    buy_later: float | None
    """Mean price of what need not be bought for it in more expensive hours; None where that is beyond the horizon."""
    prices: PricePair
    """The two steps between which a charge would bring the most."""
    saving: float
    """On the bill, to the end of the horizon."""
    left_gain: float
    """What is then left in the battery is worth so much more."""
    wear_cost: float
    wears: bool
    """Whether wear has a price."""
