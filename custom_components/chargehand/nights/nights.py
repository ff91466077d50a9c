"""Nights for which a plan was made: what was expected, what came, and what the charge earned. Kept over restarts, as the last plan is."""

from asyncio import Lock
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import asdict, dataclass, fields, replace
from datetime import date, datetime, timedelta
from enum import StrEnum
from typing import Any

from ..core.planning import Battery, Limits
from ..store import Section

WRITE_DELAY = 1
"""Seconds until what has changed is written to disk."""

SHOWN = {"target_level", "grid_charge_kwh", "saving", "why", "windows", "basis", "hours"}
"""Of a plan, what sensors show."""

MOST_NIGHTS = 400
DAY = timedelta(hours=24)


class Missing(StrEnum):
    """Why a night could not be calculated."""

    LOAD = "load"
    """The meter of what the house uses has a gap, or none is named."""
    SOLAR = "solar"
    """The same for solar."""
    LEVEL = "level"
    """Nobody saw the battery's level when a window began or ended."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Figures:
    """What a night is calculated with: prices for each so many `minutes` from the plan's start on, the battery, and what its inverter holds."""

    battery: Battery
    limits: Limits
    minutes: int
    buy: tuple[float, ...]
    sell: tuple[float, ...]

    @classmethod
    def from_dict(cls, data: Mapping[str, Any]) -> Figures:
        """From what was kept. Raises KeyError, TypeError, ValueError."""
        if not len(data["buy"]) == len(data["sell"]) == DAY / timedelta(minutes=data["minutes"]):
            raise ValueError("the prices are not those of a day")
        return cls(
            battery=Battery(**data["battery"]),
            limits=Limits(**data["limits"]),
            minutes=int(data["minutes"]),
            buy=tuple(map(float, data["buy"])),
            sell=tuple(map(float, data["sell"])),
        )


@dataclass(frozen=True, kw_only=True, slots=True)
class Outcome:
    """What came of a night. `windows` acted, the level (%) after the last; `saving` is None until it is calculated, and where it is not."""

    windows: int
    level_reached: float | None
    grid_charge_kwh: float | None
    cost: float | None
    saving: float | None = None
    missing: Missing | None = None

    @classmethod
    def from_dict(cls, data: Mapping[str, Any]) -> Outcome:
        """From what was kept. Raises TypeError, ValueError."""
        missing = data["missing"]
        return cls(**{**data, "missing": None if missing is None else Missing(missing)})

    @property
    def final(self) -> bool:
        """Whether it is calculated, or given up."""
        return self.saving is not None or self.missing is not None


@dataclass(frozen=True, kw_only=True, slots=True)
class Night:
    """A plan for a night. Moments are in UTC; energies of `day`, the main day after it, in kWh; None where nothing is known."""

    planned_at: datetime
    start: datetime
    """Of the plan's first step. Its first 24 hours are what is calculated."""
    begins: datetime
    """Start of its first window, or of the cheapest time where it has none: until then another plan takes its place."""
    ends: datetime
    evening: date
    day: date
    level: float
    target_level: float
    windows: tuple[Mapping[str, Any], ...]
    load_kwh: float | None
    solar_kwh: float
    forecast_kwh: float | None
    """As the forecast had it, before anything was learnt from earlier ones."""
    grid_charge_kwh: float | None
    saving: float | None
    """As expected, over the plan's horizon."""
    why: str
    basis: Mapping[str, Any]
    figures: Figures | None
    """None once it is calculated."""
    actual_kwh: float | None = None
    """The solar energy in kWh."""
    not_compared: bool = False
    """The solar meter had a gap on that day."""
    outcome: Outcome | None = None
    """None until the night is over."""

    @property
    def until(self) -> datetime:
        """The end of what is calculated."""
        return self.start + DAY

    @property
    def final(self) -> bool:
        """Whether nothing more will be known of its charge."""
        return self.outcome is not None and self.outcome.final

    @classmethod
    def from_dict(cls, data: Mapping[str, Any]) -> Night:
        """From what was kept. Raises KeyError, TypeError, ValueError."""
        figures, outcome = data["figures"], data["outcome"]
        parsed = {
            **{name: datetime.fromisoformat(data[name]) for name in _MOMENTS},
            **{name: date.fromisoformat(data[name]) for name in _DATES},
            "windows": tuple(data["windows"]),
            "figures": None if figures is None else Figures.from_dict(figures),
            "outcome": None if outcome is None else Outcome.from_dict(outcome),
        }
        return cls(**{field.name: parsed.get(field.name, data[field.name]) for field in fields(cls)})

    def as_dict(self) -> dict[str, Any]:
        """For keeping."""
        return asdict(self) | {name: getattr(self, name).isoformat() for name in (*_MOMENTS, *_DATES)}


_MOMENTS = ("planned_at", "start", "begins", "ends")
_DATES = ("evening", "day")


class Nights:
    """One inverter's nights, oldest first; `earned` by all that were `calculated`."""

    def __init__(self, section: Section) -> None:
        """Read what was kept. What cannot be understood any more is left behind, each part by itself."""
        self._section = section
        self._plan: Mapping[str, Any] | None = None
        self._plan_until: datetime | None = None
        self.plan_made: datetime | None = None
        """When the last plan was made, in UTC."""

        self.settling = Lock()
        """Held while the meters are looked at."""

        self.nights: list[Night] = []
        self.earned = 0.0
        self.calculated = 0
        self.not_calculated = 0
        for read in (self._read_total, self._read_plan, self._read_nights):
            with suppress(AttributeError, KeyError, TypeError, ValueError):
                read(section.found)
        section.keep(self._data)

    def _read_total(self, data: Mapping[str, Any]) -> None:
        total = data["total"]
        self.earned, self.calculated, self.not_calculated = (
            float(total["earned"]),
            int(total["calculated"]),
            int(total["not_calculated"]),
        )

    def _read_plan(self, data: Mapping[str, Any]) -> None:
        if data["plan"] is not None:
            until, made = (datetime.fromisoformat(data["plan"][key]) for key in ("until", "made"))
            answer = {**data["plan"]["answer"]}
            if answer.keys() >= SHOWN:
                self._plan, self._plan_until, self.plan_made = answer, until, made

    def _read_nights(self, data: Mapping[str, Any]) -> None:
        for one in data["nights"]:
            with suppress(AttributeError, KeyError, TypeError, ValueError):
                self.nights.append(Night.from_dict(one))

    def plan(self, now: datetime) -> Mapping[str, Any] | None:
        """Return what `plan_charge` answered last; None before the first, and once the time that it was for is over."""
        return None if self._plan_until is None or now >= self._plan_until else self._plan

    def take(self, plan: Mapping[str, Any], until: datetime, night: Night) -> None:
        """Keep a plan that was just made, for a time until an aware moment. The last one before its night begins is the night's."""
        self._plan, self._plan_until, self.plan_made = plan, until, night.planned_at
        last = self.nights[-1] if self.nights else None
        if last is not None and night.planned_at < last.begins:
            self.nights[-1] = night
        elif last is None or night.begins >= last.ends:
            self.nights = [*self.nights, night][-MOST_NIGHTS:]
        self.keep()

    def change(self, night: Night, **known: Any) -> None:
        """Keep what has become known of a night, unless another plan took its place or something else became known meanwhile."""
        if night not in self.nights:
            return
        changed = replace(night, **known)
        outcome = changed.outcome
        if outcome is not None and outcome.final and not night.final:
            self.earned += outcome.saving or 0.0
            self.calculated += outcome.saving is not None
            self.not_calculated += outcome.saving is None
            changed = replace(changed, figures=None)
        self.nights[self.nights.index(night)] = changed
        self.keep()

    def over(self, now: datetime) -> Night | None:
        """Return the last night of which it is known how it went."""
        return next((one for one in reversed(self.nights) if one.outcome is not None and one.ends <= now), None)

    def pairs(self) -> list[tuple[float, float]]:
        """Forecast and actual kWh of the days that were compared, oldest first; the later plan's where two were for one day."""
        found = {
            one.day: (one.forecast_kwh, one.actual_kwh)
            for one in self.nights
            if one.forecast_kwh is not None and one.actual_kwh is not None
        }
        return list(found.values())

    def keep(self) -> None:
        """Write to disk soon."""
        self._section.write_soon(WRITE_DELAY)

    def _data(self) -> dict[str, Any]:
        return {
            "total": {"earned": self.earned, "calculated": self.calculated, "not_calculated": self.not_calculated},
            "plan": self._plan_data(),
            "nights": [one.as_dict() for one in self.nights],
        }

    def _plan_data(self) -> dict[str, Any] | None:
        if self._plan_until is None or self.plan_made is None:
            return None
        return {"answer": self._plan, "until": self._plan_until.isoformat(), "made": self.plan_made.isoformat()}
