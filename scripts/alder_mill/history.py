"""What the recorder knows of the weeks before: long-term statistics, those of five minutes, the states of the last day; the energy dashboard."""

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Any

from homeassistant.components.energy.data import ENERGY_SOURCE_SCHEMA, async_get_manager
from homeassistant.components.recorder import get_instance
from homeassistant.components.recorder.db_schema import StatisticsShortTerm
from homeassistant.components.recorder.models import StatisticData, StatisticMeanType, StatisticMetaData
from homeassistant.components.recorder.statistics import async_import_statistics
from homeassistant.core import HomeAssistant, State

from .faults import DemoFailed
from .past import METERS, Sample
from .weather import STEP

HOUR = timedelta(hours=1)
LAST_DAY = timedelta(hours=26)
LEVEL = "battery_level"

UNIT_CLASSES = {"kWh": "energy", "W": "power", "%": "unitless"}

POWERS = ("solar_power", "load_power", "grid_power", "battery_power")
KEYS = (*METERS, *POWERS, LEVEL)
"""What has a past: Chargehand's keys."""

type Course = Sequence[tuple[datetime, float]]
"""Values with the start of the step that each is for."""


def sensor(key: str) -> str:
    """Return the entity id of the sensor that shows one of KEYS."""
    return f"sensor.teasel_t5_{key}"


def states_now(hass: HomeAssistant) -> dict[str, State]:
    """Return the states of all sensors that have a past, by key. Raises DemoFailed where one is not as its past was told."""
    states = {key: state for key in KEYS if (state := hass.states.get(sensor(key))) is not None}
    for key in KEYS:
        if key not in states or states[key].attributes.get("unit_of_measurement") != unit(key):
            raise DemoFailed(f"there is no {sensor(key)} in {unit(key)}")
    return states


def powers_of(before: Sample, after: Sample) -> dict[str, float]:
    """Return the mean powers in W between two samples, by Chargehand's key."""
    hours = (after.at - before.at) / HOUR
    watts = {name: (getattr(after.totals, name) - getattr(before.totals, name)) / hours for name in METERS.values()}
    return {
        "solar_power": watts["solar"],
        "load_power": watts["load"],
        "grid_power": watts["imported"] - watts["exported"],
        "battery_power": watts["charged"] - watts["discharged"],
    }


def unit(key: str) -> str:
    """Return the unit of a sensor's values."""
    return "kWh" if key in METERS else "%" if key == LEVEL else "W"


def course(key: str, samples: Sequence[Sample]) -> Course:
    """Return what a sensor showed for each step: a counter at its end, in kWh; means of the others."""
    steps = list(pairwise(samples))
    if key in METERS:
        # The inverter's counters show whole tenths of a kWh.
        return [(before.at, getattr(after.totals, METERS[key]) // 100 / 10) for before, after in steps]
    if key == LEVEL:
        return [(before.at, (before.level + after.level) / 2) for before, after in steps]
    return [(before.at, powers_of(before, after)[key]) for before, after in steps]


def import_past(hass: HomeAssistant, samples: Sequence[Sample]) -> None:
    """Hand the recorder the statistics of all sensors, from samples every five minutes."""
    last_hour = samples[-1].at.replace(minute=0)
    whole = [one for one in samples if one.at <= last_hour]
    recent = [one for one in samples if one.at >= samples[-1].at - LAST_DAY]
    for key in KEYS:
        metadata, first = _metadata(key), course(key, samples[:2])[0][1]
        if key not in POWERS:
            async_import_statistics(hass, metadata, _rows(key, _hours(course(key, whole)), first))
        short = _rows(key, [(at, [value]) for at, value in course(key, recent)], first)
        # Of a counter the last is enough: without it the recorder would count its sum from 0.
        short = short[-1:] if key in METERS else short
        get_instance(hass).async_import_statistics(metadata, short, StatisticsShortTerm)


def _hours(steps: Course) -> list[tuple[datetime, list[float]]]:
    """Return the values of each whole hour."""
    hours: dict[datetime, list[float]] = {}
    for at, value in steps:
        hours.setdefault(at.replace(minute=0), []).append(value)
    return list(hours.items())


def _rows(key: str, steps: Sequence[tuple[datetime, list[float]]], first: float) -> list[StatisticData]:
    if key in METERS:
        return [StatisticData(start=at, state=values[-1], sum=round(values[-1] - first, 3)) for at, values in steps]
    return [
        StatisticData(start=at, mean=sum(values) / len(values), min=min(values), max=max(values))
        for at, values in steps
    ]


def _metadata(key: str) -> StatisticMetaData:
    return StatisticMetaData(
        mean_type=StatisticMeanType.NONE if key in METERS else StatisticMeanType.ARITHMETIC,
        has_sum=key in METERS,
        name=None,
        source="recorder",
        statistic_id=sensor(key),
        unit_class=UNIT_CLASSES[unit(key)],
        unit_of_measurement=unit(key),
    )


def show_last_day(hass: HomeAssistant, states: Mapping[str, State], samples: Sequence[Sample]) -> None:
    """Let the recorder see every state of the last day, in order, each with its own time."""
    recent = [one for one in samples if one.at >= samples[-1].at - LAST_DAY]
    courses = {key: dict(course(key, recent)) for key in states}
    for sample in recent[:-1]:
        for key, state in states.items():
            value = courses[key][sample.at]
            shown = f"{value:.1f}" if key in METERS else str(round(value))
            at = sample.at + (STEP if key in METERS else timedelta())
            # Marked as what an entity finds and takes over when it starts.
            attributes = {**state.attributes, "restored": True} if sample is recent[-2] else state.attributes
            hass.states.async_set(state.entity_id, shown, attributes, timestamp=at.timestamp())


async def set_up_energy(hass: HomeAssistant) -> None:
    """Set the energy dashboard up with the inverter's counters, as its own form does."""
    sources: list[dict[str, Any]] = [
        {
            "type": "grid",
            "stat_energy_from": sensor("grid_energy_imported"),
            "stat_energy_to": sensor("grid_energy_exported"),
            "cost_adjustment_day": 0,
        },
        {"type": "solar", "stat_energy_from": sensor("solar_energy"), "config_entry_solar_forecast": None},
        {
            "type": "battery",
            "stat_energy_from": sensor("battery_energy_discharged"),
            "stat_energy_to": sensor("battery_energy_charged"),
        },
    ]
    manager = await async_get_manager(hass)
    await manager.async_update({"energy_sources": ENERGY_SOURCE_SCHEMA(sources)})
