"""Rehearsals of an inverter's schedules: what house and prices are is read once in a while, and serves for all of them."""

import asyncio
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any
from weakref import WeakKeyDictionary

from homeassistant.core import callback
from homeassistant.util import dt as dt_util
from homeassistant.util.hass_dict import HassKey

from ..actions import PLAN_SCHEMA, kilowatts, plan_inputs, planning, refused
from ..const import DOMAIN
from ..coordinator import ChargehandCoordinator
from ..core.inverter import acting, level_of
from ..core.planning import Battery, Rehearsal, Rehearsed, RehearsedWindow
from ..core.schedule import Schedule, Side, Window
from ..nights import PlanInputs, rehearsal_of

COARSE, FINE = 15, 5
"""Minutes of a step: where all windows begin and end at quarters of an hour, and else."""

FRESH = timedelta(minutes=5)
"""How long what is known of house and prices serves for rehearsing."""

PER_KILO = 1000


@dataclass(frozen=True, kw_only=True, slots=True)
class Course:
    """A schedule rehearsed, and the rehearsal that it is by."""

    by: Rehearsal
    found: Rehearsed

    def as_dict(self) -> dict[str, Any]:
        """Return the same as JSON data: levels in % at the end of each step, powers in kW, costs in the house's currency."""
        horizon, found = self.by.horizon, self.found
        powers = {"solar_kw": self.by.solar, "load_kw": self.by.load}
        return {
            "start": dt_util.as_utc(horizon.start).isoformat(),
            "step_minutes": horizon.step_minutes,
            **{name: getattr(found, name).round(1).tolist() for name in ("level", "low", "high")},
            **{name: (kwh / horizon.step_hours).round(3).tolist() for name, kwh in powers.items()},
            "cost": round(found.cost, 4),
            "cost_without": round(found.cost_without, 4),
            "saving": round(found.saving, 4),
            "left_gain": round(found.left_gain, 4),
            "wear_cost": round(found.wear_cost, 4),
            "left_kwh": round(found.left_kwh, 3),
            "grid_charge_kwh": round(found.grid_charge_kwh, 3),
        }


class Rehearsals:
    """One inverter's."""

    def __init__(self) -> None:
        """Know nothing of the house yet."""
        self._inputs: PlanInputs | None = None
        self._read_at: datetime | None = None
        self._made: dict[int, Rehearsal | None] = {}
        """By minutes of a step, from these inputs. None: too little is known of what the house uses."""

        self._turn = asyncio.Lock()
        """A rehearsal is not for two threads at a time."""

    async def under(self, coordinator: ChargehandCoordinator, schedule: Schedule) -> Course:
        """Rehearse a schedule. Raises ServiceValidationError for what is missing or wrong, as `plan_charge` does."""
        hass = coordinator.hass
        async with self._turn:
            with planning():
                rehearsal = await self._rehearsal(coordinator, _step_minutes(schedule))
            if rehearsal is None:
                raise refused("day_unknown_house")
            windows = list(_windows(coordinator, schedule, rehearsal))
            # Some hundredths of a second for numbers: not on the event loop.
            found = await hass.async_add_executor_job(rehearsal.under, windows)
        return Course(by=rehearsal, found=found)

    async def _rehearsal(self, coordinator: ChargehandCoordinator, step_minutes: int) -> Rehearsal | None:
        """Return what a schedule is rehearsed with: made anew after a while, and once the level is another."""
        inputs = await self._known(coordinator)
        if step_minutes not in self._made:
            self._made[step_minutes] = await coordinator.hass.async_add_executor_job(rehearsal_of, inputs, step_minutes)
        return self._made[step_minutes]

    async def _known(self, coordinator: ChargehandCoordinator) -> PlanInputs:
        inputs, now, level = self._inputs, dt_util.utcnow(), level_of(coordinator.data)
        if inputs is None or self._read_at is None or not timedelta() <= now - self._read_at < FRESH:
            inputs, self._read_at = await plan_inputs(coordinator, PLAN_SCHEMA({})), now
        elif not coordinator.last_update_success or level is None:
            raise refused("plan_no_level")
        elif level != inputs.level:
            # The house and its prices are as they were; only the battery is not.
            inputs = replace(inputs, level=level, now=dt_util.now())
        if inputs is not self._inputs:
            self._inputs = inputs
            self._made.clear()
        return inputs


KEPT: HassKey[WeakKeyDictionary[ChargehandCoordinator, Rehearsals]] = HassKey(f"{DOMAIN}_rehearsals")
"""By inverter, as long as its entry is loaded."""


@callback
def rehearsals_of(coordinator: ChargehandCoordinator) -> Rehearsals:
    """Return an inverter's rehearsals."""
    kept = coordinator.hass.data.setdefault(KEPT, WeakKeyDictionary())
    return kept.setdefault(coordinator, Rehearsals())


def _step_minutes(schedule: Schedule) -> int:
    edges = [edge for _, _, window in schedule.places() if window.used for edge in (window.start, window.end)]
    return FINE if any(edge % COARSE for edge in edges) else COARSE


def _windows(coordinator: ChargehandCoordinator, schedule: Schedule, rehearsal: Rehearsal) -> Iterator[RehearsedWindow]:
    """Yield every time that a window acts, by the inverter's clock, from now to the end of what can be rehearsed."""
    horizon, volts = rehearsal.horizon, coordinator.data.values.get("battery_voltage")
    snapshot = replace(coordinator.data, schedule=schedule)
    for side in Side:
        for one in acting(coordinator.inverter, snapshot, horizon.start, horizon.end, side):
            yield RehearsedWindow(
                start=one.start,
                end=one.end,
                power_kw=_power(one.window, side, rehearsal.battery, volts),
                stop_level=_stop_level(one.window, side, rehearsal.battery),
                discharges=side is Side.DISCHARGE,
            )


def _power(window: Window, side: Side, battery: Battery, volts: object) -> float:
    """Return the power of a window in kW; the battery's where it has no limit, or one that cannot be converted."""
    most = battery.charge_kw if side is Side.CHARGE else battery.discharge_kw
    limit = None if window.power is None else window.power / PER_KILO
    if limit is None and window.current is not None:
        limit = kilowatts(window.current, volts)
    return most if limit is None else min(limit, most)


def _stop_level(window: Window, side: Side, battery: Battery) -> float:
    if window.stop_level is not None:
        return window.stop_level
    return 100.0 if side is Side.CHARGE else battery.reserve_level
