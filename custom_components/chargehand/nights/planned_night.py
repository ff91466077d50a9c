"""From a plan that was made to the night that it is kept as."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from homeassistant.core import callback

from ..core.planning import Battery, Forecast, Limits, PlannedWindow, PlanReason, Prices, cheapest_time, main_day
from ..messages import plan_text, unknown_house_text
from .nights import DAY, Figures, Night

NOON = timedelta(hours=12)
"""A night belongs to the date of its evening: what begins before noon, to the day before."""

NIGHT = timedelta(hours=8)
"""A window that begins so long after the first is not waited for in the morning."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class CalculatedPlan:
    """A plan's answer, and what it was made from and of. `load` and `reason` are None where too little was known of the house."""

    answer: dict[str, Any]
    reason: PlanReason | None
    now: datetime
    level: float
    battery: Battery
    limits: Limits
    prices: Prices
    windows: Sequence[PlannedWindow]
    load: Forecast | None
    solar: Forecast
    forecast: Mapping[datetime, float]

    @property
    def until(self) -> datetime:
        """The end of what it is for, in UTC."""
        return self.prices.horizon.end.astimezone(UTC)

    @callback
    def explain(self, currency: str) -> None:
        """Add to the answer why the plan is as it is, in words, which only the event loop has."""
        if self.reason is not None:
            self.answer["why"] = plan_text(self.reason, currency)
        else:
            self.answer["why"] = unknown_house_text(self.answer["target_level"] if self.windows else None)


def planned_night(calculated: CalculatedPlan) -> Night:
    """Return the night of a plan."""
    horizon, answer = calculated.prices.horizon, calculated.answer
    begins, ends = cheapest_time(calculated.prices)
    if calculated.windows:
        begins = min(one.start for one in calculated.windows)
        ends = max(one.end for one in calculated.windows if one.start - begins < NIGHT)
    day = main_day(horizon)
    there = [at for at, start in enumerate(horizon.starts) if start.date() == day]
    forecast = [
        kwh for start, kwh in calculated.forecast.items() if start.astimezone(horizon.start.tzinfo).date() == day
    ]
    steps = round(DAY / timedelta(minutes=horizon.step_minutes))
    return Night(
        planned_at=calculated.now.astimezone(UTC),
        start=horizon.start.astimezone(UTC),
        begins=begins.astimezone(UTC),
        ends=ends.astimezone(UTC),
        evening=(begins - NOON).date(),
        day=day,
        level=calculated.level,
        target_level=float(answer["target_level"]),
        windows=tuple(answer["windows"]),
        load_kwh=None if calculated.load is None else round(float(calculated.load.expected[there].sum()), 3),
        solar_kwh=round(float(calculated.solar.expected[there].sum()), 3),
        forecast_kwh=round(sum(forecast), 3) if forecast else None,
        grid_charge_kwh=answer["grid_charge_kwh"],
        saving=answer["saving"],
        why=answer["why"],
        basis=answer["basis"],
        figures=Figures(
            battery=calculated.battery,
            limits=calculated.limits,
            minutes=horizon.step_minutes,
            buy=tuple(calculated.prices.buy[:steps].tolist()),
            sell=tuple(calculated.prices.sell[:steps].tolist()),
        ),
    )
