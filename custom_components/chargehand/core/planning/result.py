"""A plan: windows for the inverter, what they cost and save, hour by hour, and why."""

from dataclasses import dataclass
from datetime import datetime

from .reason import PlanReason


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
    cost: float
    """What is bought less what is sold."""
    cost_without: float
    """The same without the windows of the coming day."""
    level: float


@dataclass(frozen=True, kw_only=True, slots=True)
class Plan:
    """The windows of the coming day; no window where no charge is worth it.

    Costs are those of the bill over the whole horizon: what is bought less what is sold. Windows are chosen by these, wear, and what is left in
    the battery at the end: each is named apart.
    """

    windows: tuple[PlannedWindow, ...]
    target_level: float
    """Highest stop level of the windows; the level now where there is none."""
    grid_charge_kwh: float
    """Expected in the windows, at the meter."""
    expected_cost: float
    cost_without: float
    """Without the windows of the coming day."""
    saving: float
    """The difference of the two."""
    left_worth: float
    """What the battery holds at the end above its reserve is worth so much, as it spares what would be bought later."""
    left_gain: float
    """So much more than without the windows."""
    wear_cost: float
    """Wear that the windows add."""
    hours: tuple[PlannedHour, ...]
    """Later nights are in them as they would be planned by then."""
    reason: PlanReason
