"""The time that a plan is made for, cut into steps of real time."""

from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

from .faults import BadHorizon

STEPS = (5, 10, 15, 30, 60)
"""Minutes a step may have: each divides an hour, so that clocks are only ever moved between two steps."""

LEAST_HOURS, USUAL_HOURS, MOST_HOURS = 24.0, 36.0, 48.0
"""How far a plan may look ahead, and how far it usually does."""


def hours_ahead(*, dated: bool, solar: bool) -> float:
    """Return for how many hours to plan: two days where prices are `dated` and there is `solar` energy, else 36 hours.

    The sun of the day after next decides there which of the prices between now and then count. Elsewhere looking further brings nothing,
    since the second day is planned coarsely (`python -m tests.benchmarks.plan_houses`; the figures are in docs/planning.md).
    """
    return MOST_HOURS if dated and solar else USUAL_HOURS


@dataclass(frozen=True, kw_only=True, slots=True)
class Horizon:
    """`hours` of real time from `start` (aware, in the house's zone; put back to the last whole step). Raises BadHorizon."""

    start: datetime
    hours: float = USUAL_HOURS
    step_minutes: int = 30
    starts: tuple[datetime, ...] = field(init=False)
    """Start of each step, in the zone of `start`."""

    def __post_init__(self) -> None:
        """Cut the horizon; raise BadHorizon."""
        if self.start.tzinfo is None:
            raise BadHorizon("the start has no time zone: give it in the house's")
        if self.step_minutes not in STEPS:
            raise BadHorizon(f"a step of {self.step_minutes} minutes: take one of {', '.join(map(str, STEPS))}")
        if not LEAST_HOURS <= self.hours <= MOST_HOURS:
            raise BadHorizon(f"a horizon of {self.hours:g} hours: take 24 to 48")
        zone = self.start.tzinfo
        over = timedelta(
            minutes=self.start.minute % self.step_minutes,
            seconds=self.start.second,
            microseconds=self.start.microsecond,
        )
        first = self.start.astimezone(UTC) - over
        count = round(self.hours * 60 / self.step_minutes)
        step = timedelta(minutes=self.step_minutes)
        object.__setattr__(self, "start", first.astimezone(zone))
        object.__setattr__(self, "starts", tuple((first + at * step).astimezone(zone) for at in range(count)))

    @property
    def steps(self) -> int:
        """How many."""
        return len(self.starts)

    @property
    def step_hours(self) -> float:
        """Length of a step."""
        return self.step_minutes / 60

    @property
    def end(self) -> datetime:
        """When the last step ends."""
        return self.at(self.steps)

    def at(self, step: int) -> datetime:
        """Start of a step, also of the one after the last."""
        moment = self.starts[0].astimezone(UTC) + timedelta(minutes=step * self.step_minutes)
        return moment.astimezone(self.starts[0].tzinfo)

    @property
    def first_day(self) -> int:
        """Steps until the clock shows the time of the start again: the inverter's windows repeat then."""
        begun = self.starts[0]
        again = (begun.replace(tzinfo=None) + timedelta(days=1)).replace(tzinfo=begun.tzinfo)
        return round((again.astimezone(UTC) - begun.astimezone(UTC)) / timedelta(minutes=self.step_minutes))
