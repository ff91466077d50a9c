"""What is known in the morning of the night's charge, and what follows from it."""

from collections.abc import Sequence
from dataclasses import dataclass

from .schedule import Acting, Schedule


@dataclass(frozen=True, kw_only=True, slots=True)
class NightCharge:
    """A charge window that has ended: the level that it was to charge to and the one that it reached, in %. None: not known."""

    wanted: float | None
    reached: float | None


@dataclass(frozen=True, kw_only=True, slots=True)
class NightPlan:
    """The plan for that night, and what came of it. Levels in %, energy in kWh, money in the house's currency. None: not known."""

    charges: bool
    """Whether it charges at all. If not, its level is the one of that evening, which the house then uses up."""

    target_level: float
    expected_saving: float | None
    why: str
    level_reached: float | None = None
    grid_charge_kwh: float | None = None
    cost: float | None = None
    saving: float | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class NightFacts:
    """Everything that the report and its reason rest on."""

    level_now: float | None
    """The battery's level in %; None while the inverter does not answer."""

    plan: NightPlan | None
    """None if no plan was made for that night."""

    charges: Sequence[NightCharge]
    """The charge windows of the night that were followed to their end, in order."""

    held: Schedule | None
    """What the inverter holds; None if it could not be read."""

    ended: Sequence[Acting] = ()
    """Times of the night at which the windows that it holds must have charged."""

    acting: bool = False
    """Whether one of them is to charge now."""

    unproven: bool = False
    """Whether nothing proves which schedule the inverter holds."""

    changed_elsewhere: str | None = None
    """What another hand has made of the schedule, in words."""

    not_taken: str | None = None
    """What became of a change that did not take in that night, in words."""

    clock_ahead: float = 0.0
    """Seconds that the inverter's clock is ahead."""

    alarms: Sequence[str] = ()
    """What the inverter reports."""

    @property
    def none_planned(self) -> bool:
        """Whether no charge was planned, and none came."""
        return self.plan is not None and not self.plan.charges and not self.charges

    @property
    def planned(self) -> float | None:
        """The level to be reached, in %: the plan's, else what the windows were to charge to. None: none, or not known."""
        if self.none_planned:
            return None
        if self.plan is not None and self.plan.charges:
            return self.plan.target_level
        wanted = [one.wanted for one in self.charges if one.wanted is not None]
        held = [one.window.stop_level for one in self.ended if one.window.stop_level is not None]
        return max(wanted or held, default=None)

    @property
    def reached(self) -> float | None:
        """The level at the end of the charge, in %."""
        if self.plan is not None and self.plan.level_reached is not None:
            return self.plan.level_reached
        return self.charges[-1].reached if self.charges else None

    @property
    def level(self) -> float | None:
        """The level that the charge is judged by, in %: the one reached, else the one now."""
        return self.level_now if self.reached is None else self.reached

    @property
    def grid_charge_kwh(self) -> float | None:
        """The energy that came from the grid, at the meter."""
        return None if self.plan is None else self.plan.grid_charge_kwh

    @property
    def disturbed(self) -> bool:
        """Whether nothing is known to compare with, and the schedule is not the one that was set."""
        wanted = self.planned is None and not self.none_planned
        return wanted and (self.unproven or self.changed_elsewhere is not None)

    def lower(self, tolerance: float) -> bool:
        """Whether the level is lower than planned by more than `tolerance` in %. A charge that goes on is not judged yet."""
        if self.level is None or self.planned is None or (self.acting and self.reached is None):
            return False
        return self.level < self.planned - tolerance
