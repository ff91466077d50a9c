"""The action that answers how much to charge tonight, when, and why; and puts it on the inverter when it is asked to."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import voluptuous as vol
from homeassistant.config_entries import ConfigEntryState
from homeassistant.helpers import config_validation as cv
from homeassistant.util import dt as dt_util

from .answers import receipt_data
from .coordinator import ChargehandCoordinator
from .entity_prices import PricesUnreadable
from .failures import committing, refused
from .house_energies import KnownFrom, known_load, known_solar
from .house_knows import solar_forecast
from .night_reckoning import settle_nights
from .outdoor import ComingFrom, Outdoor, outdoor_temperatures
from .plan_options import (
    BATTERY,
    FALLBACK_LEVEL,
    LOAD_SENSOR,
    OUTDOOR_SENSOR,
    SOLAR_SENSOR,
    TARIFF,
    WEATHER,
    battery_of,
)
from .plan_prices import horizon_prices, told_prices
from .planned_night import Made, planned_night
from .planning import (
    DatedPrice,
    Horizon,
    Hour,
    Limits,
    Outlook,
    Plan,
    PlannedWindow,
    check_history,
    fixed_window,
    forecast_error,
    given_load,
    given_solar,
    joint,
    load_from_history,
    make_plan,
    no_solar,
    solar_from_forecast,
    solar_from_history,
    why,
)
from .planning_faults import planning_text
from .registers import SchedulePoints
from .schedule.request import ScheduleRequest, WindowRequest

DEFAULT_HOURS = 36

PLAN_FIELDS = {
    vol.Optional("hours", default=DEFAULT_HOURS): vol.All(vol.Coerce(float), vol.Range(24, 48)),
    vol.Optional("prices"): [
        vol.Schema(
            {
                vol.Required("start"): cv.datetime,
                vol.Required("end"): cv.datetime,
                vol.Required("buy"): vol.Coerce(float),
                vol.Optional("sell", default=0.0): vol.Coerce(float),
            }
        )
    ],
    vol.Optional("solar_kwh"): vol.All(vol.Coerce(float), vol.Range(0, 10_000)),
    vol.Optional("load_kwh"): vol.All(vol.Coerce(float), vol.Range(0, 10_000)),
    vol.Optional("reserve_level"): vol.All(vol.Coerce(float), vol.Range(0, 100)),
    vol.Optional("highest_level"): vol.All(vol.Coerce(float), vol.Range(0, 100)),
    vol.Optional("apply", default=False): cv.boolean,
}


@dataclass(frozen=True, kw_only=True, slots=True)
class _Told:
    """What a plan is made from, as the options, the request, the inverter and the house tell it."""

    options: Mapping[str, Any]
    asked: Mapping[str, Any]
    now: datetime
    latitude: float
    level: float
    limits: Limits
    prices: Sequence[DatedPrice]
    load: Sequence[Hour]
    load_from: KnownFrom
    outdoor: Outdoor
    solar: Sequence[Hour]
    forecast: Mapping[datetime, float]
    pairs: Sequence[tuple[float, float]]


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
    await settle_nights(coordinator)
    try:
        told = await _told(coordinator, points, asked)
        # Numbers for a third of a second: not on the event loop.
        made = await hass.async_add_executor_job(_planned, told, hass.config.currency)
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


async def _told(coordinator: ChargehandCoordinator, points: SchedulePoints, asked: Mapping[str, Any]) -> _Told:
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
    return _Told(
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


def _planned(told: _Told, currency: str) -> Made:
    """The answer, and what its night is kept with. Takes a while. Raises PlanningFault, ValueError."""
    given, asked = told.options[BATTERY], told.asked
    battery = battery_of(given, **{name: asked[name] for name in ("reserve_level", "highest_level") if name in asked})
    horizon = Horizon(start=told.now, hours=asked["hours"])
    prices, priced = horizon_prices(told.prices, told.options, asked, horizon)
    load, basis = _load(told, horizon)
    solar, known = _solar(told, horizon)
    basis |= priced | known | {"fallback": load is None}
    windows: Sequence[PlannedWindow]
    if load is not None:
        plan = make_plan(battery, told.level, prices, joint(load, solar), told.limits)
        answer, windows = _answer(plan, currency), plan.windows
    else:
        level = round(min(float(given[FALLBACK_LEVEL]), battery.highest_level))
        window = fixed_window(battery, told.level, level, prices, told.limits)
        answer, windows = _fallen_back(told.level, level, window), () if window is None else (window,)
    return Made(
        answer=answer | {"basis": basis},
        now=told.now,
        level=told.level,
        battery=battery,
        limits=told.limits,
        prices=prices,
        windows=windows,
        load=load,
        solar=solar,
        forecast=told.forecast,
    )


def _load(told: _Told, horizon: Horizon) -> tuple[Outlook | None, dict[str, Any]]:
    """The load to come (None: too little is known of it), and what it rests on."""
    if "load_kwh" in told.asked:
        found: Outlook | None = given_load(told.asked["load_kwh"], horizon)
        days, hours_left_out = 0, 0
    else:
        checked = check_history(told.load, horizon.start.tzinfo)
        left_out = checked.left_out
        days, hours_left_out = checked.days, left_out.missing + left_out.reset + left_out.absurd
        found = load_from_history(told.load, horizon, outdoor=told.outdoor.celsius)
    return found, {
        "load": str(KnownFrom.NONE if found is None else told.load_from),
        "load_days": days,
        "outdoor": str(ComingFrom.NONE if found is None else told.outdoor.coming),
        "hours_left_out": hours_left_out,
    }


def _solar(told: _Told, horizon: Horizon) -> tuple[Outlook, dict[str, Any]]:
    """The solar energy to come, and where it is known from."""
    if "solar_kwh" in told.asked:
        return given_solar(told.asked["solar_kwh"], horizon, latitude=told.latitude), {"solar": "given"}
    if told.forecast:
        outlook = solar_from_forecast(told.forecast, horizon, pairs=told.pairs)
        bias, spread = forecast_error(told.pairs)
        learnt = {"forecast_days": outlook.days, "forecast_bias": round(bias, 3), "forecast_spread": round(spread, 3)}
        return outlook, {"solar": "forecast", **learnt}
    found = solar_from_history(told.solar, horizon)
    return (no_solar(horizon), {"solar": "none"}) if found is None else (found, {"solar": "history"})


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


def _answer(plan: Plan, currency: str) -> dict[str, Any]:
    return {
        "target_level": round(plan.target_level, 1),
        "windows": [_window(window) for window in plan.windows],
        "grid_charge_kwh": round(plan.grid_charge_kwh, 2),
        "expected_cost": round(plan.expected_cost, 4),
        "cost_without": round(plan.cost_without, 4),
        "saving": round(plan.saving, 4),
        "why": why(plan.reason, currency),
        "hours": [
            {
                "start": hour.start.isoformat(),
                "buy": round(hour.buy, 5),
                "sell": round(hour.sell, 5),
                "load_kwh": round(hour.load_kwh, 3),
                "solar_kwh": round(hour.solar_kwh, 3),
                "grid_charge_kwh": round(hour.grid_charge_kwh, 3),
                "level": round(hour.level, 1),
            }
            for hour in plan.hours
        ],
    }


def _window(window: PlannedWindow) -> dict[str, Any]:
    return {
        "start": f"{window.start:%H:%M}",
        "end": f"{window.end:%H:%M}",
        "power": float(int(window.power_kw * 1000)),
        "stop_level": round(window.stop_level),
    }


def _fallen_back(now: float, level: int, window: PlannedWindow | None) -> dict[str, Any]:
    """Without a demand to plan for: the fixed level, in the cheapest hours of the coming day. Costs are not known."""
    reason = (
        "Too little is known of what this house uses, and no hour is cheap enough to charge to the fixed level"
        if window is None
        else f"Too little is known of what this house uses: charging to the fixed level of {level} % in the cheapest hours"
    )
    return {
        "target_level": now if window is None else level,
        "windows": [] if window is None else [_window(window)],
        "grid_charge_kwh": None,
        "expected_cost": None,
        "cost_without": None,
        "saving": None,
        "why": f"{reason}.",
        "hours": [],
    }
