"""A plan reckoned from what was told, and its answer as data; takes a while, and knows nothing of a running house."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from ..core.planning import (
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
from ..house import ComingFrom, KnownFrom, Outdoor
from .plan_options import BATTERY, FALLBACK_LEVEL, battery_of
from .plan_prices import horizon_prices
from .planned_night import Made


@dataclass(frozen=True, kw_only=True, slots=True)
class Told:
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


def planned(told: Told, currency: str) -> Made:
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


def _load(told: Told, horizon: Horizon) -> tuple[Outlook | None, dict[str, Any]]:
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


def _solar(told: Told, horizon: Horizon) -> tuple[Outlook, dict[str, Any]]:
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


def _answer(plan: Plan, currency: str) -> dict[str, Any]:
    return {
        "target_level": round(plan.target_level, 1),
        "windows": [_window(window) for window in plan.windows],
        "grid_charge_kwh": round(plan.grid_charge_kwh, 2),
        "expected_cost": round(plan.expected_cost, 4),
        "cost_without": round(plan.cost_without, 4),
        "saving": round(plan.saving, 4),
        "left_gain": round(plan.left_gain, 4),
        "wear_cost": round(plan.wear_cost, 4),
        "why": why(plan.reason, currency),
        "hours": [
            {
                "start": hour.start.isoformat(),
                "buy": round(hour.buy, 5),
                "sell": round(hour.sell, 5),
                "load_kwh": round(hour.load_kwh, 3),
                "solar_kwh": round(hour.solar_kwh, 3),
                "grid_charge_kwh": round(hour.grid_charge_kwh, 3),
                "cost": round(hour.cost, 4),
                "cost_without": round(hour.cost_without, 4),
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
        "left_gain": None,
        "wear_cost": None,
        "why": f"{reason}.",
        "hours": [],
    }
