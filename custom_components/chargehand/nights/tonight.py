"""The charge of the coming night: whether to charge, and its windows with and without a plan."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Any


class When(StrEnum):
    """What says whether to charge in a night."""

    MONTHS = "months"
    """The season."""

    PAYS = "pays"
    """The plan; without one that knows the house, the season."""


class Way(StrEnum):
    """How far to charge, and when."""

    PLANNED = "planned"
    """To the planned level, in all of the hours."""

    PLANNED_HOURS = "planned_hours"
    """To the planned level, in the planned hours."""

    FIXED = "fixed"
    """To a fixed level, in all of the hours."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Tonight:
    """What a night's charge is made from. Levels are in %."""

    start: str
    end: str
    """The hours to charge in, in the house's time, "HH:MM"."""

    limit: Mapping[str, float]
    """The limit of its windows: `power` in W or `current` in A, or neither."""

    way: Way
    when: When = When.MONTHS
    in_season: bool = True

    fixed_level: float | None = None
    """The level to charge to without a plan."""

    lowest_level: float = 0.0
    """The least to charge to, whatever a plan says."""

    @property
    def plans(self) -> bool:
        """Whether it takes a plan to say what to charge."""
        return self.when is When.PAYS or (self.in_season and self.way is not Way.FIXED)

    def wanted(self, plan: Mapping[str, Any] | None) -> bool:
        """Return whether the battery is to be charged at all; else the charge is switched off."""
        if self.when is When.PAYS and plan is not None:
            return bool(plan["windows"])
        return self.in_season


def tonight_windows(tonight: Tonight, plan: Mapping[str, Any] | None, lowest_stop: float) -> list[dict[str, Any]]:
    """Return the charge windows of a night as `apply_schedule` takes them; none where nothing is to be charged.

    `plan` is what `plan_charge` answers, None without a plan that knows the house. Below `lowest_stop` no window can stop.
    """
    if plan is None or tonight.way is Way.FIXED:
        return _in_hours(tonight, max(tonight.fixed_level or 0, tonight.lowest_level), lowest_stop)
    windows: Sequence[Mapping[str, Any]] = plan["windows"]
    if not windows:
        return _in_hours(tonight, tonight.lowest_level, lowest_stop)
    if tonight.way is Way.PLANNED and all("stop_level" in window for window in windows):
        return _in_hours(tonight, max(plan["target_level"], tonight.lowest_level), lowest_stop)
    return [_within(window, tonight) for window in windows]


def _in_hours(tonight: Tonight, level: float, lowest_stop: float) -> list[dict[str, Any]]:
    if level < lowest_stop:
        return []
    return [{"start": tonight.start, "end": tonight.end, **tonight.limit, "stop_level": round(level)}]


def _within(window: Mapping[str, Any], tonight: Tonight) -> dict[str, Any]:
    """Return a planned window within the limit, and to at least the lowest level."""
    kept = {name: min(window[name], most) for name, most in tonight.limit.items() if name in window}
    if "stop_level" in window:
        kept["stop_level"] = round(max(window["stop_level"], tonight.lowest_level))
    return {**window, **kept}
