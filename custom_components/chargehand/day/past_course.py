"""What was in the band until now: level, solar and house by five minutes, from the recorder's statistics."""

from collections.abc import Hashable, Mapping
from datetime import datetime, timedelta
from typing import Any

from homeassistant.const import Platform
from homeassistant.helpers import entity_registry as er

from ..connection import entity_unique_id
from ..const import DOMAIN
from ..core.planning import Hour
from ..house import five_minute_means
from ..nights import BATTERY, LOAD_SENSOR, SOLAR_SENSOR, load_hours, solar_hours
from .day_facts import DayFacts

STEP = timedelta(minutes=5)
HOUR = timedelta(hours=1)
PER_KILO = 1000

READINGS = {"level": "battery_level", "solar_kw": "solar_power", "load_kw": "load_power"}
OPTIONS = {"solar_kw": SOLAR_SENSOR, "load_kw": LOAD_SENSOR}
"""The option that names a counter for an energy; it goes before the inverter's own power, as it does for a plan."""

type Means = Mapping[datetime, float]
"""By start of each five minutes, in UTC."""


def past_made_of(facts: DayFacts) -> Hashable:
    """Return what the past goes by: it goes on every five minutes, and with a reading where there was none."""
    return facts.ticks, facts.band, facts.available


async def past(facts: DayFacts) -> dict[str, Any]:
    """Return the past by five minutes, with None for what is not known. The last one is what was just read."""
    hass, entry, band = facts.hass, facts.entry, facts.band
    registry = er.async_get(hass)
    ids = {
        name: registry.async_get_entity_id(Platform.SENSOR, DOMAIN, entity_unique_id(entry.entry_id, key))
        for name, key in READINGS.items()
    }
    there = {entity_id for entity_id in ids.values() if entity_id is not None}
    means = await five_minute_means(hass, there, band.start)
    named = entry.options.get(BATTERY, {})
    found: dict[str, Means] = {
        name: {} if name in OPTIONS and named.get(OPTIONS[name]) else means.get(entity_id or "", {})
        for name, entity_id in ids.items()
    }
    if not found["load_kw"]:
        found["load_kw"] = _by_steps((await load_hours(hass, entry, band.start))[0])
    if not found["solar_kw"]:
        found["solar_kw"] = _by_steps(await solar_hours(hass, entry, band.start) or [])
    steps = [band.start + at * STEP for at in range((facts.now - band.start) // STEP)]
    courses = {name: [*(found[name].get(step) for step in steps), _read_now(facts, name)] for name in READINGS}
    return {
        "start": band.start.isoformat(),
        "step_minutes": STEP // timedelta(minutes=1),
        "level": [_rounded(value, 1) for value in courses["level"]],
        **{name: [_rounded(value, 3) for value in courses[name]] for name in OPTIONS},
    }


def _by_steps(hours: list[Hour]) -> dict[datetime, float]:
    """Return hourly energies in kWh as the mean power of each five minutes in kW."""
    return {start + at * STEP: kwh for start, kwh in hours if kwh is not None for at in range(HOUR // STEP)}


def _read_now(facts: DayFacts, name: str) -> float | None:
    """Return what was read last, of an inverter that answers."""
    value = facts.known.snapshot.values.get(READINGS[name]) if facts.available else None
    named = facts.entry.options.get(BATTERY, {}).get(OPTIONS.get(name, ""))
    if named or isinstance(value, bool) or not isinstance(value, int | float):
        return None
    return value if name == "level" else value / PER_KILO


def _rounded(value: float | None, digits: int) -> float | None:
    return None if value is None else round(value, digits)
