"""What the house knows that a plan needs: hourly energies of its own history, what its energy dashboard names, and the sun."""

import logging
from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any, Literal

from homeassistant.core import HomeAssistant
from homeassistant.helpers import sun
from homeassistant.util import dt as dt_util

_LOGGER = logging.getLogger(__name__)

if TYPE_CHECKING:
    from homeassistant.components.energy.types import SolarForecastType

    from ..core.planning import Hour

HISTORY_DAYS = 400
"""A year and a month: this season's days, and last year's."""


async def hourly_energies(
    hass: HomeAssistant, statistic_ids: set[str], first: datetime | None = None
) -> dict[str, list[Hour]]:
    """By long-term statistic, what it counted up to the end of each hour, in kWh, since the hour before that it has.

    From `first` on, else the last HISTORY_DAYS. One without any hour is missing; all are where there is no recorder.
    """
    return await _hourly(hass, statistic_ids, "change", {"energy": "kWh"}, first)


async def hourly_temperature(hass: HomeAssistant, statistic_id: str) -> list[Hour]:
    """Mean of each hour, in degC, by the same statistics; empty where there are none."""
    return (await _hourly(hass, {statistic_id}, "mean", {"temperature": "°C"})).get(statistic_id, [])


async def _hourly(
    hass: HomeAssistant,
    statistic_ids: set[str],
    kind: Literal["change", "mean"],
    units: dict[str, str],
    first: datetime | None = None,
) -> dict[str, list[Hour]]:
    if not statistic_ids or "recorder" not in hass.config.components:
        return {}
    from homeassistant.components.recorder import get_instance  # noqa: PLC0415 - a house may run without the recorder
    from homeassistant.components.recorder.statistics import statistics_during_period  # noqa: PLC0415

    begun = first or dt_util.utcnow() - timedelta(days=HISTORY_DAYS)

    def hours() -> dict[str, list[Hour]]:
        rows = statistics_during_period(hass, begun, None, statistic_ids, "hour", units, {kind})
        return {
            statistic_id: [(dt_util.utc_from_timestamp(row["start"]), row.get(kind)) for row in there]
            for statistic_id, there in rows.items()
        }

    return await get_instance(hass).async_add_executor_job(hours)


async def dashboard_sources(hass: HomeAssistant) -> list[Mapping[str, Any]]:
    """Return the energy dashboard's sources, as the platform keeps them; none where there is no dashboard."""
    if "energy" not in hass.config.components:
        return []
    from homeassistant.components.energy.data import async_get_manager  # noqa: PLC0415 - as above

    manager = await async_get_manager(hass)
    return [] if manager.data is None else list(manager.data["energy_sources"])


async def solar_forecast(hass: HomeAssistant) -> dict[datetime, float]:
    """Energy by hour, in kWh, of all forecasts that the energy dashboard's solar sources name; empty where there are none."""
    entry_ids = {
        entry_id
        for source in await dashboard_sources(hass)
        if source["type"] == "solar"
        for entry_id in source.get("config_entry_solar_forecast") or ()
    }
    if not entry_ids:
        return {}
    from homeassistant.components.energy.websocket_api import async_get_energy_platforms  # noqa: PLC0415 - as above

    platforms = await async_get_energy_platforms(hass)
    hours: dict[datetime, float] = {}
    for entry_id in sorted(entry_ids):
        entry = hass.config_entries.async_get_entry(entry_id)
        if entry is None or entry.domain not in platforms:
            continue
        try:
            forecast = await platforms[entry.domain](hass, entry_id)
        except Exception as fault:  # noqa: BLE001 - another integration's fault, of whatever kind; a plan without its forecast is better than none
            _LOGGER.warning("The solar forecast of %s cannot be read, and is left out: %s", entry.title, fault)
            continue
        for start, watt_hours in _forecast_hours(forecast).items():
            hours[start] = hours.get(start, 0.0) + watt_hours / 1000
    return hours


def is_dark(hass: HomeAssistant, hour: datetime) -> bool:
    """Whether the sun is below the house's horizon all through an hour from an aware moment on."""
    return not any(sun.is_up(hass, dt_util.as_utc(hour) + timedelta(minutes=at)) for at in (0, 30, 60))


def _forecast_hours(forecast: SolarForecastType | None) -> dict[datetime, float]:
    """Wh by the start of the hour; a forecast may be finer than an hour."""
    hours: dict[datetime, float] = {}
    for text, watt_hours in ({} if forecast is None else forecast["wh_hours"]).items():
        moment = dt_util.parse_datetime(text)
        if moment is None:
            continue
        start = dt_util.as_utc(moment).replace(minute=0, second=0, microsecond=0)
        hours[start] = hours.get(start, 0.0) + watt_hours
    return hours


async def five_minute_means(
    hass: HomeAssistant, statistic_ids: set[str], first: datetime
) -> dict[str, dict[datetime, float]]:
    """By statistic, the mean of every five minutes from an aware moment on, by their start in UTC; powers are in kW.

    One without any is missing; all are where there is no recorder.
    """
    if not statistic_ids or "recorder" not in hass.config.components:
        return {}
    from homeassistant.components.recorder import get_instance  # noqa: PLC0415 - as above
    from homeassistant.components.recorder.statistics import statistics_during_period  # noqa: PLC0415

    def means() -> dict[str, dict[datetime, float]]:
        rows = statistics_during_period(hass, first, None, statistic_ids, "5minute", {"power": "kW"}, {"mean"})
        return {
            statistic_id: {
                dt_util.utc_from_timestamp(row["start"]): mean for row in there if (mean := row.get("mean")) is not None
            }
            for statistic_id, there in rows.items()
        }

    return await get_instance(hass).async_add_executor_job(means)
