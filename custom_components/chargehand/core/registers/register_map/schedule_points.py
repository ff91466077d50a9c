"""Where the schedule and its windows are kept, and what they can be."""

from dataclasses import dataclass, field

from .command_writes import WritesAround
from .control_points import Control
from .layouts import TimePoint
from .points import Address, Group, Point, Raw, Value
from .poll_rate import Poll
from .slot_use import Mode, Weekdays


@dataclass(frozen=True, kw_only=True, slots=True)
class Limit:
    """A number that belongs to a window: a current in A, a power in W or a level in %."""

    point: Point
    unit: str
    minimum: float
    maximum: float
    shared: bool = False
    """Whether all windows of the side have this one."""

    @property
    def step(self) -> float:
        """The least difference that the register can hold."""
        return abs(float(self.point.scale))

    @property
    def can_be_zero(self) -> bool:
        """Whether 0 can be written: its window does nothing then."""
        return self.nearest(0) == 0

    def nearest(self, value: float, at_most: float | None = None) -> float | None:
        """Return what would be stored for a value, within the bounds and at most so much; None when that cannot be."""
        most = self.maximum if at_most is None else min(self.maximum, at_most)
        return self.point.nearest(value, self.minimum, most)


@dataclass(frozen=True, kw_only=True, slots=True)
class WindowPoints:
    """Where one window is kept."""

    start: TimePoint
    end: TimePoint
    """Where its end is kept, or how long it lasts."""

    by_duration: bool = False
    """Whether `end` holds how long it lasts; 0 is an unused window then."""

    current: Limit | None = None
    power: Limit | None = None
    stop_level: Limit | None = None
    active: Point | Mode | None = None
    days: Weekdays | None = None
    """Where the days are kept on which it acts; None: it acts every day."""

    whole: range | None = None
    """The window's registers where the inverter takes them only whole, in one request; they have no gap then."""

    @property
    def times(self) -> tuple[TimePoint, ...]:
        """Where its start and its end or duration are kept."""
        return self.start, self.end

    @property
    def blanks(self) -> tuple[dict[Address, int], ...]:
        """Registers by which it is unused, with what they hold then: each of these alone is enough."""
        if self.by_duration:
            return (self.end.encode(0),)
        marked = tuple(time.blank for time in self.times if time.unused)
        return marked or (self.start.blank | self.end.blank,)

    def says_unused(self, raw: Raw) -> bool:
        """Whether one of its times is marked as that of an unused window."""
        return any(time.says_unused(raw) for time in self.times)

    @property
    def addresses(self) -> tuple[Address, ...]:
        """All registers that it takes."""
        return tuple(dict.fromkeys(address for point in self.parts for address in point.addresses))

    @property
    def parts(self) -> tuple[Point | TimePoint, ...]:
        """All that it is made of."""
        limits = (limit.point for limit in (self.current, self.power, self.stop_level) if limit is not None)
        return (self.start, self.end, *limits, *self.conditions)

    @property
    def conditions(self) -> tuple[Point, ...]:
        """Where it says whether the window is used, and on which days."""
        active = self.active.point if isinstance(self.active, Mode) else self.active
        days = None if self.days is None else self.days.point
        return tuple(point for point in (active, days) if point is not None)


@dataclass(frozen=True, kw_only=True, slots=True)
class ListPoint:
    """Where one point of a list of times is kept: its time, and what holds from then until the next point's, over midnight too."""

    start: TimePoint
    charging: Point
    """Whether the battery is charged in this part of the day."""

    current: Limit | None = None
    power: Limit | None = None
    stop_level: Limit | None = None

    @property
    def parts(self) -> tuple[Point | TimePoint, ...]:
        """All that it is made of."""
        limits = (limit.point for limit in (self.current, self.power, self.stop_level) if limit is not None)
        return (self.start, self.charging, *limits)


@dataclass(frozen=True, kw_only=True, slots=True)
class ArmedBy:
    """The control that lets the windows act, and the value at which it does."""

    control: Control
    value: Value


@dataclass(frozen=True, kw_only=True, slots=True)
class SchedulePoints:
    """Where the schedule is kept, and what its windows can be."""

    armed_by: ArmedBy | None = None
    crosses_midnight: bool = True
    step_minutes: int = 1
    latest_end: str = "24:00"
    poll: Poll = Poll.SLOW
    charge: tuple[WindowPoints, ...] = ()
    discharge: tuple[WindowPoints, ...] = ()
    list_of_times: tuple[ListPoint, ...] = ()
    """Where the charge windows are parts of a list; each of `charge` is then no more than one point's limits."""

    days: Weekdays | None = None
    """Where the days are kept that all windows have in common."""

    around: WritesAround = field(default_factory=WritesAround)
    """None of these registers is one of the schedule's."""

    @property
    def addresses(self) -> tuple[Address, ...]:
        """All registers of the schedule, what arms it among them: those that may be written."""
        return tuple(sorted({address for point in self.parts for address in point.addresses}))

    @property
    def wholes(self) -> tuple[range, ...]:
        """The stretches of registers that the inverter takes only whole."""
        return tuple(where.whole for where in (*self.charge, *self.discharge) if where.whole is not None)

    @property
    def groups(self) -> tuple[Group, ...]:
        """All registers needed to read the schedule, by what comes in one read."""
        return tuple(dict.fromkeys(group for point in self.parts for group in point.groups))

    @property
    def parts(self) -> tuple[Point | TimePoint, ...]:
        """All that it is made of, what arms it first."""
        arming = () if self.armed_by is None else (self.armed_by.control.point,)
        windows = (*self.charge, *self.discharge)
        listed = (part for point in self.list_of_times for part in point.parts)
        days = () if self.days is None else (self.days.point,)
        return (*arming, *days, *(part for window in windows for part in window.parts), *listed)
