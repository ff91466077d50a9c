"""What protects the battery from a schedule: its own limit, and the temperatures at which it must not be charged.

The battery's own management has the last word in any case; this keeps from asking it for what it would refuse.
"""

from dataclasses import dataclass, replace

from ..reasons import Reason
from ..registers import SchedulePoints
from .image import points_of
from .request import Adjustment
from .slot_image import limit_of
from .windows import Schedule, Side, Window

COLDEST = 0.0
HOTTEST = 50.0
"""°C between which lithium iron phosphate may be charged (common practice, no source)."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Battery:
    """What the battery reports of itself now; None: not known. V, A and °C."""

    voltage: float | None = None
    charge_current_limit: float | None = None
    temperature: float | None = None
    failure: Exception | None = None
    """Why none of it could be read; None when it was."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Protected:
    """A schedule within what the battery allows, what was adjusted for that, and why it cannot be at all."""

    schedule: Schedule
    adjusted: tuple[Adjustment, ...] = ()
    reasons: tuple[Reason, ...] = ()


def protect(points: SchedulePoints, held: Schedule, wanted: Schedule, battery: Battery) -> Protected:
    """Bring a schedule within what the battery allows. What the inverter holds already is not this change's and stays.

    Raises why the battery could not be read when a charge that is new depends on it; taking charges away never does.
    """
    new = [
        number
        for number, (old, window) in enumerate(zip(held.charge, wanted.charge, strict=True), start=1)
        # A list of times shows the same window in another place once one before it has gone.
        if window.used and (window not in (old, *held.charge) or (wanted.armed and not held.armed))
    ]
    if not new:
        return Protected(schedule=wanted)
    if battery.failure is not None:
        raise battery.failure
    reasons = _temperature(battery.temperature) if wanted.armed is not False else []
    adjusted: list[Adjustment] = []
    schedule = wanted
    for number in new:
        window = schedule.charge[number - 1]
        for name, most in _most(battery).items():
            limit = limit_of(points_of(points, Side.CHARGE)[number - 1], name)
            value: float | None = getattr(window, name)
            if limit is None or value is None or value <= most:
                continue
            lowered = limit.nearest(min(most, limit.maximum), at_most=most)
            if lowered is None or lowered <= 0:
                reasons.append(Reason.of("battery_takes_none", most=f"{max(most, 0):g}", unit=limit.unit))
                continue
            window = _with_limit(window, name, lowered)
            schedule = schedule.with_window(Side.CHARGE, number, window)
            adjusted.append(
                Adjustment(
                    what=f"charge_window_{number}_{name}",
                    requested=f"{value:g} {limit.unit}",
                    applied=f"{lowered:g} {limit.unit}",
                    why="battery_limit",
                )
            )
    # Several windows meet the same obstacle; it is reported once.
    return Protected(schedule=schedule, adjusted=tuple(adjusted), reasons=tuple(_once(reasons)))


def _temperature(temperature: float | None) -> list[Reason]:
    if temperature is not None and temperature < COLDEST:
        return [Reason.of("too_cold", temperature=f"{temperature:g}", coldest=f"{COLDEST:g}")]
    if temperature is not None and temperature > HOTTEST:
        return [Reason.of("too_hot", temperature=f"{temperature:g}", hottest=f"{HOTTEST:g}")]
    return []


def _most(battery: Battery) -> dict[str, float]:
    """Return what the battery takes now, as a current and, where the voltage is known, as a power."""
    if battery.charge_current_limit is None:
        return {}
    most = {"current": battery.charge_current_limit}
    if battery.voltage:
        most["power"] = battery.charge_current_limit * battery.voltage
    return most


def _with_limit(window: Window, name: str, value: float) -> Window:
    return replace(window, current=value) if name == "current" else replace(window, power=value)


def _once(reasons: list[Reason]) -> list[Reason]:
    return [reason for index, reason in enumerate(reasons) if reason not in reasons[:index]]
