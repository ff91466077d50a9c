"""What the house used and what solar gave, hour by hour: from a sensor of its own, else from the energy dashboard's counters."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from homeassistant.core import HomeAssistant

from ..core.planning import Flow, Hour, balance
from .statistics import dashboard_sources, hourly_energies


class KnownFrom(StrEnum):
    """Where an energy is known from."""

    SENSOR = "sensor"
    ENERGY_DASHBOARD = "energy_dashboard"
    INVERTER = "inverter"
    GIVEN = "given"
    NONE = "none"


@dataclass(frozen=True, kw_only=True, slots=True)
class _Counter:
    """A long-term statistic of an energy, as `Flow` takes it."""

    statistic_id: str
    sign: int = 1
    sleeps: bool = False


@dataclass(frozen=True, kw_only=True, slots=True)
class _Edge:
    """A key of a source in the energy dashboard, and which way its energy goes."""

    kind: str
    key: str
    sign: int
    sleeps: bool = False


_EDGES = (
    _Edge(kind="grid", key="stat_energy_from", sign=1),
    _Edge(kind="grid", key="stat_energy_to", sign=-1),
    _Edge(kind="solar", key="stat_energy_from", sign=1, sleeps=True),
    _Edge(kind="battery", key="stat_energy_from", sign=1),
    _Edge(kind="battery", key="stat_energy_to", sign=-1),
)
_NEEDED = frozenset({("grid", "stat_energy_from"), ("battery", "stat_energy_to")})
"""Without the first it is not known what comes in; without the second what is charged at night would count as used."""


async def known_load(
    hass: HomeAssistant, sensor: str | None, own: str | None = None, first: datetime | None = None
) -> tuple[list[Hour], KnownFrom]:
    """Return the energy that the house used in each hour, in kWh (None: not known), and from where it is known.

    From `sensor`, else from the dashboard, else from `own`, the inverter's counter. From `first` on, else a year and more.
    """
    if sensor is not None:
        return await _balanced(hass, [_Counter(statistic_id=sensor)], first), KnownFrom.SENSOR
    found = await _dashboard(hass)
    if not found.keys() >= _NEEDED:
        hours = [] if own is None else await _balanced(hass, [_Counter(statistic_id=own)], first)
        return hours, KnownFrom.INVERTER if hours else KnownFrom.NONE
    counters = [counter for there in found.values() for counter in there]
    return await _balanced(hass, counters, first), KnownFrom.ENERGY_DASHBOARD


async def known_solar(
    hass: HomeAssistant, sensor: str | None, own: str | None = None, first: datetime | None = None
) -> list[Hour] | None:
    """Return the solar energy of each hour in kWh (None: not known), from the same; None without a solar source."""
    if sensor is not None:
        return await _balanced(hass, [_Counter(statistic_id=sensor, sleeps=True)], first)
    solar = (await _dashboard(hass)).get(("solar", "stat_energy_from"))
    if solar is not None:
        return await _balanced(hass, solar, first)
    return None if own is None else await _balanced(hass, [_Counter(statistic_id=own, sleeps=True)], first) or None


async def dashboard_knows(hass: HomeAssistant) -> tuple[bool, bool]:
    """Return whether the energy dashboard's sources show what the house uses, and its solar energy."""
    found = await _dashboard(hass)
    return found.keys() >= _NEEDED, ("solar", "stat_energy_from") in found


async def dashboard_prices(hass: HomeAssistant) -> tuple[float | None, float | None]:
    """Return the fixed prices per kWh bought and fed in of the energy dashboard's grid, or None where it has none."""
    grids = [source for source in await dashboard_sources(hass) if source["type"] == "grid"]
    buy, sell = (
        next((source[key] for source in grids if source.get(key) is not None), None)
        for key in ("number_energy_price", "number_energy_price_export")
    )
    return buy, sell


async def _dashboard(hass: HomeAssistant) -> dict[tuple[str, str], list[_Counter]]:
    """Return the counters of the energy dashboard, by the source's kind and key; a source may lack one of two directions."""
    found: dict[tuple[str, str], list[_Counter]] = {}
    for source in await dashboard_sources(hass):
        for edge in _EDGES:
            if source["type"] == edge.kind and (statistic_id := source.get(edge.key)) is not None:
                counter = _Counter(statistic_id=statistic_id, sign=edge.sign, sleeps=edge.sleeps)
                found.setdefault((edge.kind, edge.key), []).append(counter)
    return found


async def _balanced(hass: HomeAssistant, counters: Sequence[_Counter], first: datetime | None) -> list[Hour]:
    hours = await hourly_energies(hass, {counter.statistic_id for counter in counters}, first)
    flows = [
        Flow(hours=hours.get(counter.statistic_id, ()), sign=counter.sign, sleeps=counter.sleeps)
        for counter in counters
    ]
    # A year of several counters is too much for the event loop.
    return await hass.async_add_executor_job(balance, flows)
