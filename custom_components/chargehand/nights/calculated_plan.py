"""Calculates a plan from its inputs, and its answer as data. Takes a while, and knows nothing of a running house."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from ..core.planning import (
    LEAST_HOURS,
    DatedPrice,
    Forecast,
    Horizon,
    Hour,
    Limits,
    Plan,
    PlannedWindow,
    PlanReason,
    Rehearsal,
    check_history,
    fixed_window,
    forecast_error,
    given_load,
    given_solar,
    hours_ahead,
    joint,
    load_from_history,
    make_plan,
    no_solar,
    solar_from_forecast,
    solar_from_history,
)
from ..house import ComingFrom, KnownFrom, Outdoor
from .plan_options import BATTERY, FALLBACK_LEVEL, battery_of
from .plan_prices import horizon_prices, hours_known
from .planned_night import CalculatedPlan


@dataclass(frozen=True, kw_only=True, slots=True)
class PlanInputs:
    """What a plan is made from: the options, the request, and what inverter and house know."""

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


def planned(inputs: PlanInputs) -> CalculatedPlan:
    """Return the answer, and what its night is kept with. Takes a while. Raises PlanningFault, ValueError."""
    given, asked = inputs.options[BATTERY], inputs.asked
    battery = battery_of(given, **{name: asked[name] for name in ("reserve_level", "highest_level") if name in asked})
    horizon = Horizon(start=inputs.now, hours=_hours(inputs))
    prices, priced = horizon_prices(inputs.prices, inputs.options, asked, horizon)
    load, basis = _load(inputs, horizon)
    solar, known = _solar(inputs, horizon)
    basis |= priced | known | {"fallback": load is None}
    windows: Sequence[PlannedWindow]
    reason: PlanReason | None
    if load is not None:
        plan = make_plan(battery, inputs.level, prices, joint(load, solar), inputs.limits)
        answer, windows, reason = _answer(plan), plan.windows, plan.reason
    else:
        level = round(min(float(given[FALLBACK_LEVEL]), battery.highest_level))
        window = fixed_window(battery, inputs.level, level, prices, inputs.limits)
        answer, windows = _fallen_back(inputs.level, level, window), () if window is None else (window,)
        reason = None
    return CalculatedPlan(
        answer=answer | {"basis": basis},
        reason=reason,
        now=inputs.now,
        level=inputs.level,
        battery=battery,
        limits=inputs.limits,
        prices=prices,
        windows=windows,
        load=load,
        solar=solar,
        forecast=inputs.forecast,
    )


def rehearsal_of(inputs: PlanInputs, step_minutes: int) -> Rehearsal | None:
    """Return what schedules can be rehearsed with; None where too little is known of the load. Takes a while. Raises as `planned`."""
    battery = battery_of(inputs.options[BATTERY])
    horizon = Horizon(start=inputs.now, hours=_hours(inputs), step_minutes=step_minutes)
    prices, _ = horizon_prices(inputs.prices, inputs.options, inputs.asked, horizon)
    load, _ = _load(inputs, horizon)
    if load is None:
        return None
    return Rehearsal(battery, inputs.level, prices, joint(load, _solar(inputs, horizon)[0]), inputs.limits)


def _hours(inputs: PlanInputs) -> float:
    """Return for how many hours to plan: as requested, else as far as it pays and the request's own prices reach."""
    asked = inputs.asked
    if "hours" in asked:
        return float(asked["hours"])
    hours = hours_ahead(
        dated=bool(inputs.prices), solar=bool(asked.get("solar_kwh") or inputs.forecast or inputs.solar)
    )
    if "prices" not in asked or not inputs.prices:
        return hours
    return min(hours, max(hours_known(inputs.prices, inputs.now), LEAST_HOURS))


def _load(inputs: PlanInputs, horizon: Horizon) -> tuple[Forecast | None, dict[str, Any]]:
    """Return the load to come (None: too little is known of it), and what it rests on."""
    if "load_kwh" in inputs.asked:
        found: Forecast | None = given_load(inputs.asked["load_kwh"], horizon)
        days, hours_left_out = 0, 0
    else:
        checked = check_history(inputs.load, horizon.start.tzinfo)
        left_out = checked.left_out
        days, hours_left_out = checked.days, left_out.missing + left_out.reset + left_out.absurd
        found = load_from_history(inputs.load, horizon, outdoor=inputs.outdoor.celsius)
    return found, {
        "load": str(KnownFrom.NONE if found is None else inputs.load_from),
        "load_days": days,
        "outdoor": str(ComingFrom.NONE if found is None else inputs.outdoor.coming),
        "hours_left_out": hours_left_out,
    }


def _solar(inputs: PlanInputs, horizon: Horizon) -> tuple[Forecast, dict[str, Any]]:
    """Return the solar energy to come, and where it is known from."""
    if "solar_kwh" in inputs.asked:
        return given_solar(inputs.asked["solar_kwh"], horizon, latitude=inputs.latitude), {"solar": "given"}
    if inputs.forecast:
        forecast = solar_from_forecast(inputs.forecast, horizon, pairs=inputs.pairs)
        bias, spread = forecast_error(inputs.pairs)
        learnt = {"forecast_days": forecast.days, "forecast_bias": round(bias, 3), "forecast_spread": round(spread, 3)}
        return forecast, {"solar": "forecast", **learnt}
    found = solar_from_history(inputs.solar, horizon)
    return (no_solar(horizon), {"solar": "none"}) if found is None else (found, {"solar": "history"})


def _answer(plan: Plan) -> dict[str, Any]:
    return {
        "target_level": round(plan.target_level, 1),
        "windows": [_window(window) for window in plan.windows],
        "grid_charge_kwh": round(plan.grid_charge_kwh, 2),
        "expected_cost": round(plan.expected_cost, 4),
        "cost_without": round(plan.cost_without, 4),
        "saving": round(plan.saving, 4),
        "left_gain": round(plan.left_gain, 4),
        "wear_cost": round(plan.wear_cost, 4),
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
    return {
        "target_level": now if window is None else level,
        "windows": [] if window is None else [_window(window)],
        "grid_charge_kwh": None,
        "expected_cost": None,
        "cost_without": None,
        "saving": None,
        "left_gain": None,
        "wear_cost": None,
        "hours": [],
    }
