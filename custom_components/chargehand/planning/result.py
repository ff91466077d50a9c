"""A plan: windows for the inverter, what they cost and save, hour by hour, and why."""

from dataclasses import dataclass
from datetime import datetime

from .reason import Reason


@dataclass(frozen=True, kw_only=True, slots=True)
class PlannedWindow:
    """A charge window from an aware moment to another; power at the battery's terminals in kW, stop level in %."""

    start: datetime
    end: datetime
    power_kw: float
    stop_level: int


@dataclass(frozen=True, kw_only=True, slots=True)
class PlannedHour:
    """What is expected of an hour, or of the part of it that is in the horizon; `level` in % at its end."""

    start: datetime
    buy: float
    sell: float
    load_kwh: float
    solar_kwh: float
    grid_charge_kwh: float
    level: float


@dataclass(frozen=True, kw_only=True, slots=True)
class Plan:
    """The windows of the coming day; no window where no charge is worth it.

    Costs are of the whole horizon: bought, less sold, and wear, less the worth of what the battery holds at the end above its reserve: a
    fuller start costs less. `cost_without` is the same without the windows of the coming day.
    """

    windows: tuple[PlannedWindow, ...]
    target_level: float
    """Highest stop level of the windows; the level now where there is none."""
    grid_charge_kwh: float
    """Expected in the windows, at the meter."""
    expected_cost: float
    cost_without: float
    saving: float
    hours: tuple[PlannedHour, ...]
    """Later nights are in them as they would be planned by then."""
    reason: Reason
