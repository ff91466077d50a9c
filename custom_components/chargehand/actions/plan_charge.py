"""The action that answers how much to charge tonight, when, and why; and puts it on the inverter when it is asked to."""

from collections.abc import Mapping
from typing import Any

import voluptuous as vol
from homeassistant.config_entries import ConfigEntryState
from homeassistant.helpers import config_validation as cv
from homeassistant.util import dt as dt_util

from ..coordinator import ChargehandCoordinator
from ..core.planning import Hour, Limits
from ..core.registers import SchedulePoints
from ..core.schedule import ScheduleRequest, WindowRequest
from ..house import KnownFrom, Outdoor, PricesUnreadable, known_load, known_solar, outdoor_temperatures, solar_forecast
from ..messages import planning_text
from ..nights import (
    BATTERY,
    LOAD_SENSOR,
    OUTDOOR_SENSOR,
    SOLAR_SENSOR,
    TARIFF,
    WEATHER,
    Told,
    planned,
    planned_night,
    told_prices,
)
from .answers import receipt_data
from .failures import committing, refused
from .numbers import number

DEFAULT_HOURS = 36

PLAN_FIELDS = {
    vol.Optional("hours", default=DEFAULT_HOURS): vol.All(number, vol.Range(24, 48)),
    vol.Optional("prices"): [
        vol.Schema(
            {
                vol.Required("start"): cv.datetime,
                vol.Required("end"): cv.datetime,
                vol.Required("buy"): number,
                vol.Optional("sell", default=0.0): number,
            }
        )
    ],
    vol.Optional("solar_kwh"): vol.All(number, vol.Range(0, 10_000)),
    vol.Optional("load_kwh"): vol.All(number, vol.Range(0, 10_000)),
    vol.Optional("reserve_level"): vol.All(number, vol.Range(0, 100)),
    vol.Optional("highest_level"): vol.All(number, vol.Range(0, 100)),
    vol.Optional("apply", default=False): cv.boolean,
}


async def plan_charge(coordinator: ChargehandCoordinator, asked: Mapping[str, Any], by: str) -> dict[str, Any]:
    """Plan, and apply when asked. Raises ServiceValidationError for what is missing or wrong, and as `apply_schedule`."""
    if asked["apply"]:
        # Refused before anything is reckoned, and kept as the last failure.
        with committing(coordinator, by):
            pass
    hass = coordinator.hass
    points = coordinator.inverter.map.schedule
    if points is None or not points.charge:
        raise refused("no_schedule")
    await coordinator.settle_nights()
    try:
        told = await _told(coordinator, points, asked)
        # Numbers for a third of a second: not on the event loop.
        made = await hass.async_add_executor_job(planned, told, hass.config.currency)
    except PricesUnreadable as fault:
        raise refused(fault.key, **fault.values) from fault
    except ValueError as fault:
        raise refused("plan_rejected", reasons=planning_text(fault)) from fault
    entry = coordinator.config_entry
    if entry.state is not ConfigEntryState.LOADED:
        raise refused("not_running", inverter=entry.title)
    # The entry may have been reloaded meanwhile.
    coordinator = entry.runtime_data
    answer = made.answer
    if points.charge[0].stop_level is None:
        answer["windows"] = [
            {key: window[key] for key in window if key != "stop_level"} for window in answer["windows"]
        ]
    coordinator.take_plan(dict(answer), made.until, planned_night(made))
    if asked["apply"]:
        windows = [WindowRequest(**window) for window in answer["windows"]]
        schedule = coordinator.data.schedule
        # Nothing to charge: the windows go, and whether discharge windows are armed stays as it is.
        armed = bool(windows) or schedule is None or schedule.armed is not False
        with committing(coordinator, by):
            receipt = await coordinator.commits.apply(ScheduleRequest(charge=windows, armed=armed), by)
        answer["receipt"] = receipt_data(receipt)
    return answer


async def _told(coordinator: ChargehandCoordinator, points: SchedulePoints, asked: Mapping[str, Any]) -> Told:
    hass, options, values = coordinator.hass, coordinator.config_entry.options, coordinator.data.values
    if BATTERY not in options:
        raise refused("plan_no_battery")
    if "prices" not in asked and TARIFF not in options:
        raise refused("plan_no_tariff")
    # What was read before the inverter fell silent may be hours old.
    level = values.get("battery_level") if coordinator.last_update_success else None
    if isinstance(level, bool) or not isinstance(level, int | float):
        raise refused("plan_no_level")
    given = options[BATTERY]
    prices = told_prices(hass, options, asked)
    load: list[Hour] = []
    load_from, outdoor = KnownFrom.GIVEN, Outdoor()
    if "load_kwh" not in asked:
        load, load_from = await known_load(hass, given.get(LOAD_SENSOR))
        outdoor = await outdoor_temperatures(hass, given.get(OUTDOOR_SENSOR), given.get(WEATHER))
    forecast = {} if "solar_kwh" in asked else await solar_forecast(hass)
    return Told(
        options=options,
        asked=asked,
        now=dt_util.now(),
        latitude=hass.config.latitude,
        level=float(level),
        limits=_limits(points, values.get("battery_voltage")),
        prices=prices,
        load=load,
        load_from=load_from,
        outdoor=outdoor,
        solar=() if forecast or "solar_kwh" in asked else await known_solar(hass, given.get(SOLAR_SENSOR)) or (),
        forecast=forecast,
        pairs=coordinator.nights.pairs(),
    )


def _limits(points: SchedulePoints, volts: object) -> Limits:
    """What these charge windows can hold; a current is a power by the battery's voltage of now."""
    first = points.charge[0]
    most = None
    if first.power is not None:
        most = first.power.maximum / 1000
    elif first.current is not None and isinstance(volts, int | float) and volts > 0:
        most = first.current.maximum * volts / 1000
    return Limits(
        windows=len(points.charge),
        step_minutes=points.step_minutes,
        splits_at_midnight=not points.crosses_midnight,
        lowest_stop_level=first.stop_level.minimum if first.stop_level is not None else 10.0,
        most_kw=most,
    )
