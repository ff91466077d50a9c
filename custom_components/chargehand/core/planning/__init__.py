"""Planning: what to charge from the grid, when, and why. Pure computation.

Hands out the battery, tariffs and horizons, forecasts of load and solar, the plan of least expected cost, and its reason.
"""

from .balance import Flow, balance
from .battery import Battery
from .candidates import Limits
from .cheapest_runs import WindowRoom, cheapest_runs, split_at
from .demand import given_load, load_from_history
from .earned import Charge, MeteredDay, charge_bill, day_prices, earned, metered_steps
from .faults import BadBattery, BadForecast, BadHorizon, BadLimits, BadTariff, PlanningFault, PriceGap
from .fixed import cheapest_time, fixed_window
from .forecast_errors import forecast_error, learnt_errors
from .history import Hour, check_history, main_day, sound_hours
from .horizon import LEAST_HOURS, MOST_HOURS, Horizon, hours_ahead
from .plan import make_plan
from .reason import Covered, HeldBack, PlanReason, ReasonKey
from .rehearsal import Rehearsal, Rehearsed, RehearsedWindow
from .result import Plan, PlannedWindow
from .scenarios import Forecast, LeftOut, Scenarios, joint
from .solar import given_solar, no_solar, solar_from_forecast, solar_from_history
from .tariff import Band, DatedPrice, Days, Keeps, Prices, Tariff, dated_over_tariff, dated_prices, tariff_prices

__all__ = [
    "LEAST_HOURS",
    "MOST_HOURS",
    "BadBattery",
    "BadForecast",
    "BadHorizon",
    "BadLimits",
    "BadTariff",
    "Band",
    "Battery",
    "Charge",
    "Covered",
    "DatedPrice",
    "Days",
    "Flow",
    "Forecast",
    "HeldBack",
    "Horizon",
    "Hour",
    "Keeps",
    "LeftOut",
    "Limits",
    "MeteredDay",
    "Plan",
    "PlanReason",
    "PlannedWindow",
    "PlanningFault",
    "PriceGap",
    "Prices",
    "ReasonKey",
    "Rehearsal",
    "Rehearsed",
    "RehearsedWindow",
    "Scenarios",
    "Tariff",
    "WindowRoom",
    "balance",
    "charge_bill",
    "cheapest_runs",
    "cheapest_time",
    "check_history",
    "dated_over_tariff",
    "dated_prices",
    "day_prices",
    "earned",
    "fixed_window",
    "forecast_error",
    "given_load",
    "given_solar",
    "hours_ahead",
    "joint",
    "learnt_errors",
    "load_from_history",
    "main_day",
    "make_plan",
    "metered_steps",
    "no_solar",
    "solar_from_forecast",
    "solar_from_history",
    "sound_hours",
    "split_at",
    "tariff_prices",
]
