"""The action that answers how much to charge tonight, when, and why; and puts it on the inverter when it is asked to."""

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import groupby
from typing import Any

import voluptuous as vol
from homeassistant.core import HomeAssistant
from homeassistant.exceptions import ServiceValidationError
from homeassistant.helpers import config_validation as cv
from homeassistant.util import dt as dt_util

from .answers import receipt_data
from .const import DOMAIN
from .coordinator import ChargehandCoordinator
from .failures import control_not_allowed, translated
from .house_knows import hourly_energy, solar_forecast
from .plan_options import BATTERY, FALLBACK_LEVEL, LOAD_SENSOR, SOLAR_SENSOR, TARIFF, battery_of, tariff_of
from .planning import (
    Battery,
    DatedPrice,
    Horizon,
    Limits,
    Outlook,
    Plan,
    PlannedWindow,
    PlanningFault,
    Prices,
    check_history,
    dated_prices,
    given_load,
    given_solar,
    joint,
    load_from_history,
    make_plan,
    no_solar,
    solar_from_forecast,
    solar_from_history,
    tariff_prices,
    why,
)
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
class _Known:
    """What a plan is made from. `load` is None where too little is known of it."""

    battery: Battery
    level: float
    prices: Prices
    load: Outlook | None
    solar: Outlook
    solar_from: str
    load_days: int
    left_out: int
    limits: Limits
    stops: bool
    """Whether the inverter's windows have a stop level."""

    fallback_level: float


async def plan_charge(coordinator: ChargehandCoordinator, asked: Mapping[str, Any], by: str) -> dict[str, Any]:
    """Plan, and apply when asked. Raises ServiceValidationError for what is missing or wrong, and as `apply_schedule`."""
    if asked["apply"] and not coordinator.allow_control:
        raise control_not_allowed()
    hass = coordinator.hass
    try:
        known = await _known(coordinator, asked)
        # Numbers for a third of a second: not on the event loop.
        plan = None if known.load is None else await hass.async_add_executor_job(_plan, known)
    except (PlanningFault, ValueError) as fault:
        raise _wrong("plan_rejected", reasons=str(fault)) from fault
    answer = _fallen_back(known) if plan is None else _answer(plan, hass.config.currency)
    if not known.stops:
        answer["windows"] = [
            {key: window[key] for key in window if key != "stop_level"} for window in answer["windows"]
        ]
    answer["basis"] = {
        "load_days": known.load_days,
        "solar": known.solar_from,
        "fallback": plan is None,
        "hours_left_out": known.left_out,
    }
    coordinator.take_plan(answer)
    if asked["apply"]:
        windows = [WindowRequest(**window) for window in answer["windows"]]
        schedule = coordinator.data.schedule
        # Nothing to charge: the windows go, and whether discharge windows are armed stays as it is.
        armed = bool(windows) or schedule is None or schedule.armed is not False
        with translated(coordinator):
            receipt = await coordinator.apply_schedule(ScheduleRequest(charge=windows, armed=armed), by)
        answer["receipt"] = receipt_data(receipt)
    return answer


async def _known(coordinator: ChargehandCoordinator, asked: Mapping[str, Any]) -> _Known:
    hass, options = coordinator.hass, coordinator.config_entry.options
    points = coordinator.inverter.map.schedule
    if points is None or not points.charge:
        raise _wrong("no_schedule")
    if BATTERY not in options:
        raise _wrong("plan_no_battery")
    if "prices" not in asked and TARIFF not in options:
        raise _wrong("plan_no_tariff")
    level = coordinator.data.values.get("battery_level")
    if isinstance(level, bool) or not isinstance(level, int | float):
        raise _wrong("plan_no_level")
    given = options[BATTERY]
    battery = battery_of(given, **{name: asked[name] for name in ("reserve_level", "highest_level") if name in asked})
    horizon = Horizon(start=dt_util.now(), hours=asked["hours"])
    if "prices" in asked:
        prices = dated_prices([DatedPrice(**_aware(price)) for price in asked["prices"]], horizon)
    else:
        prices = tariff_prices(tariff_of(options[TARIFF]), horizon)
    load, days, left_out = await _load(hass, given.get(LOAD_SENSOR), asked.get("load_kwh"), horizon)
    solar, solar_from = await _solar(hass, given.get(SOLAR_SENSOR), asked.get("solar_kwh"), horizon)
    return _Known(
        battery=battery,
        level=float(level),
        prices=prices,
        load=load,
        solar=solar,
        solar_from=solar_from,
        load_days=days,
        left_out=left_out,
        limits=_limits(points, coordinator.data.values.get("battery_voltage")),
        stops=points.charge[0].stop_level is not None,
        fallback_level=min(float(given[FALLBACK_LEVEL]), battery.highest_level),
    )


def _aware(price: Mapping[str, Any]) -> dict[str, Any]:
    """A price whose times without a zone are the house's."""
    zone = dt_util.get_default_time_zone()
    return {
        **price,
        **{
            end: price[end].replace(tzinfo=zone) if price[end].tzinfo is None else price[end].astimezone(zone)
            for end in ("start", "end")
        },
    }


async def _load(
    hass: HomeAssistant, sensor: str | None, kwh: float | None, horizon: Horizon
) -> tuple[Outlook | None, int, int]:
    """The load to come, from how many days, and how many hours of the history were left out."""
    if kwh is not None:
        return given_load(kwh, horizon), 0, 0
    if sensor is None:
        return None, 0, 0
    history = await hourly_energy(hass, sensor)
    if not history:
        return None, 0, 0
    checked = check_history(history, horizon.start.tzinfo)
    left_out = checked.left_out.missing + checked.left_out.reset + checked.left_out.absurd
    return await hass.async_add_executor_job(load_from_history, history, horizon), checked.days, left_out


async def _solar(hass: HomeAssistant, sensor: str | None, kwh: float | None, horizon: Horizon) -> tuple[Outlook, str]:
    """The solar energy to come, and where it is known from."""
    if kwh is not None:
        return given_solar(kwh, horizon, latitude=hass.config.latitude), "given"
    if forecast := await solar_forecast(hass):
        return solar_from_forecast(forecast, horizon), "forecast"
    if sensor is not None and (history := await hourly_energy(hass, sensor)):
        found = await hass.async_add_executor_job(solar_from_history, history, horizon)
        if found is not None:
            return found, "history"
    return no_solar(horizon), "none"


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


def _plan(known: _Known) -> Plan:
    assert known.load is not None
    return make_plan(known.battery, known.level, known.prices, joint(known.load, known.solar), known.limits)


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


def _fallen_back(known: _Known) -> dict[str, Any]:
    """Without a demand to plan for: the fixed level, in the cheapest hours of the coming day. Costs are not known."""
    level = round(known.fallback_level)
    run = _cheap_run(known, level)
    window: dict[str, Any] = {}
    if run is not None:
        first, last = (known.prices.horizon.at(step) for step in run)
        power = float(int(known.limits.power(known.battery) * 1000))
        window = {"start": f"{first:%H:%M}", "end": f"{last:%H:%M}", "power": power, "stop_level": level}
    reason = (
        f"Too little is known of what this house uses: charging to the fixed level of {level} % in the cheapest hours"
        if window
        else "Too little is known of what this house uses, and no hour is cheap enough to charge to the fixed level"
    )
    return {
        "target_level": level if window else known.level,
        "windows": [window] if window else [],
        "grid_charge_kwh": None,
        "expected_cost": None,
        "cost_without": None,
        "saving": None,
        "why": f"{reason}.",
        "hours": [],
    }


def _cheap_run(known: _Known, level: float) -> tuple[int, int] | None:
    """Steps (first, end) of the coming day in which to charge to `level`: the cheapest that are next to each other and long enough.

    None where the level is reached already, or no price is far enough below the dearest to be worth a charge.
    """
    battery, horizon = known.battery, known.prices.horizon
    buy = [float(price) for price in known.prices.buy[: horizon.first_day]]
    missing = battery.energy(level) - battery.energy(known.level)
    steps = missing / known.limits.power(battery) / horizon.step_hours
    best: tuple[int, int] | None = None
    for most in sorted({price for price in buy if battery.worth_it(price, max(buy))}):
        grouped = groupby(range(len(buy)), [price <= most for price in buy].__getitem__)
        runs = [(group[0], group[-1] + 1) for cheap, found in grouped if cheap and (group := list(found))]
        best = max(runs, key=lambda run: run[1] - run[0])
        if best[1] - best[0] >= steps:
            break
    return best if missing > 0 else None


def _wrong(key: str, **values: str) -> ServiceValidationError:
    return ServiceValidationError(translation_domain=DOMAIN, translation_key=key, translation_placeholders=values)
