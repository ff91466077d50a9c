"""Planned nights: the plan of a night, what came of it, and what it saved."""

from .before_windows import BeforeNeed, before_runs, before_windows, target_level
from .calculated_plan import PlanInputs, planned, rehearsal_of
from .house_meters import load_hours, own_counter, solar_hours
from .night_alarm import NightAlarm
from .nights import Night, Nights
from .past_windows import PastWindows, follow_windows
from .plan_options import (
    BATTERY,
    FALLBACK_LEVEL,
    LOAD_SENSOR,
    OUTDOOR_SENSOR,
    SOLAR_SENSOR,
    TARIFF,
    WEATHER,
    battery_of,
    tariff_of,
)
from .plan_prices import prices_at_hand
from .planned_night import planned_night
from .results import follow_nights, settle_nights
from .shown import last_night, nights_counted
from .tonight import Tonight, Way, When, tonight_windows
from .tonight_hours import LEAST_LEFT, NoCheapHours, TonightHours, tonight_hours

__all__ = [
    "BATTERY",
    "FALLBACK_LEVEL",
    "LEAST_LEFT",
    "LOAD_SENSOR",
    "OUTDOOR_SENSOR",
    "SOLAR_SENSOR",
    "TARIFF",
    "WEATHER",
    "BeforeNeed",
    "Night",
    "NightAlarm",
    "Nights",
    "NoCheapHours",
    "PastWindows",
    "PlanInputs",
    "Tonight",
    "TonightHours",
    "Way",
    "When",
    "battery_of",
    "before_runs",
    "before_windows",
    "follow_nights",
    "follow_windows",
    "last_night",
    "load_hours",
    "nights_counted",
    "own_counter",
    "planned",
    "planned_night",
    "prices_at_hand",
    "rehearsal_of",
    "settle_nights",
    "solar_hours",
    "target_level",
    "tariff_of",
    "tonight_hours",
    "tonight_windows",
]
