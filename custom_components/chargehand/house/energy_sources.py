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
    hass: HomeAssistant, sensor: str | None, first: datetime | None = None
) -> tuple[list[Hour], KnownFrom]:
    """Energy that the house used in each hour, in kWh (None: not known), and from where; from `first` on, else a year and more."""
    if sensor is not None:
        return await _balanced(hass, [_Counter(statistic_id=sensor)], first), KnownFrom.SENSOR
    found = await _dashboard(hass)
    if not found.keys() >= _NEEDED:
        return [], KnownFrom.NONE
    counters = [counter for there in found.values() for counter in there]
    return await _balanced(hass, counters, first), KnownFrom.ENERGY_DASHBOARD


async def known_solar(hass: HomeAssistant, sensor: str | None, first: datetime | None = None) -> list[Hour] | None:
    """Return the solar energy of each hour in kWh (None: not known), since the same; None without a solar source."""
    if sensor is not None:
        return await _balanced(hass, [_Counter(statistic_id=sensor, sleeps=True)], first)
    solar = (await _dashboard(hass)).get(("solar", "stat_energy_from"))
    return None if solar is None else await _balanced(hass, solar, first)


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
