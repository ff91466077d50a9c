"""Long-term statistics in a real recorder, as if a house had kept them, and its energy dashboard."""

from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from typing import Any

from homeassistant.components.energy.data import ENERGY_SOURCE_SCHEMA, async_get_manager
from homeassistant.components.recorder import get_instance
from homeassistant.components.recorder.models import StatisticData, StatisticMeanType, StatisticMetaData
from homeassistant.components.recorder.statistics import async_import_statistics
from homeassistant.core import HomeAssistant
from homeassistant.setup import async_setup_component
from homeassistant.util import dt as dt_util


def past_hours(days: int) -> Iterator[datetime]:
    """Start of each whole hour of so many days until now, in the house's time."""
    now = dt_util.utcnow().replace(minute=0, second=0, microsecond=0)
    return (dt_util.as_local(now - timedelta(hours=ago)) for ago in range(24 * days, 0, -1))


async def keep_energy(
    hass: HomeAssistant, sensor: str, days: int, kwh: Callable[[datetime], float | None], unit: str = "kWh"
) -> None:
    """A counter that rose so much in each hour; None: it was not read in that hour, and rose on."""
    scale = {"kWh": 1, "Wh": 1000}[unit]
    total, rows = 0.0, []
    for start in past_hours(days):
        rise = kwh(start)
        total += (rise or 0.0) * scale
        if rise is not None:
            rows.append(StatisticData(start=dt_util.as_utc(start), state=total, sum=total))
    await imported(hass, sensor, rows, unit=unit, unit_class="energy", has_sum=True)


async def keep_temperature(
    hass: HomeAssistant, sensor: str, days: int, degrees: Callable[[datetime], float], unit: str = "°C"
) -> None:
    """A thermometer's mean of each hour."""
    rows = [
        StatisticData(start=dt_util.as_utc(start), mean=degrees(start), min=degrees(start), max=degrees(start))
        for start in past_hours(days)
    ]
    await imported(hass, sensor, rows, unit=unit, unit_class="temperature", has_sum=False)


async def imported(
    hass: HomeAssistant,
    sensor: str,
    rows: list[StatisticData],
    *,
    unit: str = "kWh",
    unit_class: str = "energy",
    has_sum: bool = True,
) -> None:
    """Rows of one statistic, in the recorder when this returns."""
    metadata = StatisticMetaData(
        mean_type=StatisticMeanType.NONE if has_sum else StatisticMeanType.ARITHMETIC,
        has_sum=has_sum,
        name=None,
        source="recorder",
        statistic_id=sensor,
        unit_class=unit_class,
        unit_of_measurement=unit,
    )
    async_import_statistics(hass, metadata, rows)
    await get_instance(hass).async_block_till_done()


async def keep_dashboard(hass: HomeAssistant, *sources: dict[str, Any]) -> None:
    """An energy dashboard with these sources, as the platform's own form would store them."""
    assert await async_setup_component(hass, "energy", {})
    manager = await async_get_manager(hass)
    await manager.async_update({"energy_sources": ENERGY_SOURCE_SCHEMA(list(sources))})
