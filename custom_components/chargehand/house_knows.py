"""What the house knows that a plan needs: hourly energies of its own history, what its energy dashboard names, and the sun."""

from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from homeassistant.core import HomeAssistant
from homeassistant.helpers import sun
from homeassistant.util import dt as dt_util

if TYPE_CHECKING:
    from homeassistant.components.energy.data import SolarSourceType
    from homeassistant.components.energy.types import SolarForecastType

    from .planning import Hour

HISTORY_DAYS = 400
"""A year and a month: this season's days, and last year's."""


async def hourly_energy(hass: HomeAssistant, statistic_id: str, first: datetime | None = None) -> list[Hour]:
    """Energy of each hour, in kWh, from the recorder's long-term statistics; empty where there are none, or no recorder."""
    if "recorder" not in hass.config.components:
        return []
    from homeassistant.components.recorder import get_instance  # noqa: PLC0415 - a house may run without the recorder
    from homeassistant.components.recorder.statistics import statistics_during_period  # noqa: PLC0415

    begun = first or dt_util.utcnow() - timedelta(days=HISTORY_DAYS)

    def hours() -> list[Hour]:
        rows = statistics_during_period(hass, begun, None, {statistic_id}, "hour", {"energy": "kWh"}, {"change"})
        return [(dt_util.utc_from_timestamp(row["start"]), row.get("change")) for row in rows.get(statistic_id, ())]

    return await get_instance(hass).async_add_executor_job(hours)


async def solar_meters(hass: HomeAssistant) -> list[str]:
    """Long-term statistics of the energy dashboard's solar sources."""
    return [source["stat_energy_from"] for source in await _solar_sources(hass)]


async def solar_forecast(hass: HomeAssistant) -> dict[datetime, float]:
    """Energy by hour, in kWh, of all forecasts that the energy dashboard's solar sources name; empty where there are none."""
    sources = await _solar_sources(hass)
    entry_ids = {entry_id for source in sources for entry_id in source.get("config_entry_solar_forecast") or ()}
    if not entry_ids:
        return {}
    from homeassistant.components.energy.websocket_api import async_get_energy_platforms  # noqa: PLC0415 - as above

    platforms = await async_get_energy_platforms(hass)
    hours: dict[datetime, float] = {}
    for entry_id in sorted(entry_ids):
        entry = hass.config_entries.async_get_entry(entry_id)
        if entry is None or entry.domain not in platforms:
            continue
        told = await platforms[entry.domain](hass, entry_id)
        for start, watt_hours in _told_hours(told).items():
            hours[start] = hours.get(start, 0.0) + watt_hours / 1000
    return hours


def is_dark(hass: HomeAssistant, hour: datetime) -> bool:
    """Whether the sun is below the house's horizon all through an hour from an aware moment on."""
    return not any(sun.is_up(hass, dt_util.as_utc(hour) + timedelta(minutes=at)) for at in (0, 30, 60))


async def _solar_sources(hass: HomeAssistant) -> list[SolarSourceType]:
    if "energy" not in hass.config.components:
        return []
    from homeassistant.components.energy.data import async_get_manager  # noqa: PLC0415 - as above

    manager = await async_get_manager(hass)
    sources = [] if manager.data is None else manager.data["energy_sources"]
    return [source for source in sources if source["type"] == "solar"]


def _told_hours(told: SolarForecastType | None) -> dict[datetime, float]:
    """Wh by the start of the hour; a forecast may be finer than an hour."""
    hours: dict[datetime, float] = {}
    for text, watt_hours in ({} if told is None else told["wh_hours"]).items():
        moment = dt_util.parse_datetime(text)
        if moment is None:
            continue
        start = dt_util.as_utc(moment).replace(minute=0, second=0, microsecond=0)
        hours[start] = hours.get(start, 0.0) + watt_hours
    return hours
