"""Planning: what to charge from the grid, when, and why. Pure computation.

Hands out the battery, tariffs and horizons, outlooks of load and solar, the plan of least expected cost, and its reason in words.
"""

from .balance import Flow, balance
from .battery import Battery
from .demand import given_load, load_from_history
from .faults import BadBattery, BadHorizon, BadLimits, BadOutlook, BadTariff, PlanningFault, PriceGap
from .fixed import fixed_window
from .history import Checked, Hour, check_history
from .horizon import Horizon
from .outlook import LeftOut, Outlook, Scenarios, joint
from .plan import make_plan
from .reason import HeldBack, Reason, ReasonKey
from .result import Plan, PlannedHour, PlannedWindow
from .solar import forecast_error, given_solar, no_solar, solar_from_forecast, solar_from_history
from .tariff import Band, DatedPrice, Days, Keeps, Prices, Tariff, dated_over_tariff, dated_prices, tariff_prices
from .why import why
from .windows import Limits

__all__ = [
    "BadBattery",
    "BadHorizon",
    "BadLimits",
    "BadOutlook",
    "BadTariff",
    "Band",
    "Battery",
    "Checked",
    "DatedPrice",
    "Days",
    "Flow",
    "HeldBack",
    "Horizon",
    "Hour",
    "Keeps",
    "LeftOut",
    "Limits",
    "Outlook",
    "Plan",
    "PlannedHour",
    "PlannedWindow",
    "PlanningFault",
    "PriceGap",
    "Prices",
    "Reason",
    "ReasonKey",
    "Scenarios",
    "Tariff",
    "balance",
    "check_history",
    "dated_over_tariff",
    "dated_prices",
    "fixed_window",
    "forecast_error",
    "given_load",
    "given_solar",
    "joint",
    "load_from_history",
    "make_plan",
    "no_solar",
    "solar_from_forecast",
    "solar_from_history",
    "tariff_prices",
    "why",
]
