"""How warm it was outside, from a sensor's history, and how warm it will be: from a weather forecast, else as it was a day before."""

import logging
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from enum import StrEnum
from typing import Any

from homeassistant.components.weather import WeatherEntityFeature
from homeassistant.const import ATTR_ENTITY_ID, ATTR_SUPPORTED_FEATURES, UnitOfTemperature
from homeassistant.core import HomeAssistant
from homeassistant.util import dt as dt_util
from homeassistant.util.unit_conversion import TemperatureConverter

from .statistics import hourly_temperature

_LOGGER = logging.getLogger(__name__)

AHEAD_HOURS = 48
"""No plan looks further."""
_HOUR = timedelta(hours=1)
_DAY = 24
_FORECASTS = (
    (WeatherEntityFeature.FORECAST_HOURLY, "hourly", 1),
    (WeatherEntityFeature.FORECAST_TWICE_DAILY, "twice_daily", 12),
    (WeatherEntityFeature.FORECAST_DAILY, "daily", 24),
)
"""What a weather entity may offer, the finest first, and the hours that one of its forecasts is for."""


class ComingFrom(StrEnum):
    """Where the coming day's temperature is known from."""

    FORECAST = "forecast"
    PERSISTENCE = "persistence"
    NONE = "none"


@dataclass(frozen=True, kw_only=True, slots=True)
class Outdoor:
    """degC by the start of each hour, past and coming."""

    celsius: Mapping[datetime, float] = field(default_factory=dict)
    coming: ComingFrom = ComingFrom.NONE


async def outdoor_temperatures(hass: HomeAssistant, sensor: str | None, weather: str | None) -> Outdoor:
    """Return what is known; nothing without a sensor whose history days can be compared by."""
    if sensor is None:
        return Outdoor()
    past = {start: celsius for start, celsius in await hourly_temperature(hass, sensor) if celsius is not None}
    forecast = {} if weather is None or not past else await _forecast(hass, weather)
    now = dt_util.utcnow().replace(minute=0, second=0, microsecond=0)
    # Hours of today that are over are as they were measured, not as they are still forecast.
    known = forecast | past
    persisting = 0
    for hour in (now + ahead * _HOUR for ahead in range(AHEAD_HOURS)):
        # Of the day before what is coming, or of the day before that.
        before = next((at for days in (1, 2) if (at := hour - days * _DAY * _HOUR) in past), None)
        if hour not in known and before is not None:
            known[hour] = past[before]
            persisting += hour < now + _DAY * _HOUR
    foreseen = sum(now + ahead * _HOUR in forecast for ahead in range(_DAY))
    if max(foreseen, persisting) < _DAY / 2:
        return Outdoor()
    return Outdoor(celsius=known, coming=ComingFrom.FORECAST if foreseen >= persisting else ComingFrom.PERSISTENCE)


async def _forecast(hass: HomeAssistant, weather: str) -> dict[datetime, float]:
    """Return what a weather entity forecasts by its finest forecast; nothing where it cannot be asked."""
    state = hass.states.get(weather)
    if state is None:
        return {}
    offered = state.attributes.get(ATTR_SUPPORTED_FEATURES, 0)
    kind, hours = next(((kind, hours) for feature, kind, hours in _FORECASTS if offered & feature), ("", 0))
    if not kind:
        return {}
    try:
        answer = await hass.services.async_call(
            "weather",
            "get_forecasts",
            {ATTR_ENTITY_ID: weather, "type": kind},
            blocking=True,
            return_response=True,
        )
    except Exception as fault:  # noqa: BLE001 - another integration's fault, of whatever kind; a plan without tomorrow's weather is better than none
        _LOGGER.warning("The forecast of %s cannot be read, and is left out: %s", weather, fault)
        return {}
    forecasts: Any = (answer or {}).get(weather) or {}
    unit = state.attributes.get("temperature_unit", UnitOfTemperature.CELSIUS)
    found: dict[datetime, float] = {}
    for row in forecasts.get("forecast", ()):
        moment = dt_util.parse_datetime(row["datetime"])
        if moment is None or row.get("temperature") is None:
            continue
        # A day's forecast has its highest and its lowest.
        low = row.get("templow")
        mean = (row["temperature"] + (row["temperature"] if low is None else low)) / 2
        celsius = TemperatureConverter.convert(mean, unit, UnitOfTemperature.CELSIUS)
        start = dt_util.start_of_local_day(dt_util.as_local(moment)) if hours == _DAY else moment
        first = dt_util.as_utc(start).replace(minute=0, second=0, microsecond=0)
        found.update({first + ahead * _HOUR: celsius for ahead in range(hours)})
    return found
