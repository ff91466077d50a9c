"""Where the schedule and its windows are kept, and what they can be."""

from dataclasses import dataclass, field, replace
from decimal import Decimal
from typing import Any

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

    per_cent: tuple[float, float] | None = None
    """Lowest and highest where they are percentages of a value that is read; `minimum` and `maximum` are 0 until `known` has it."""

    scaled_by: Raw = field(default_factory=dict)
    """The registers of that value, as `known` found them."""

    def known(self, raw: Raw) -> Limit:
        """Return the limit with the bounds that follow from what was read; the same one where nothing has to be read for them."""
        if self.per_cent is None or self.point.percent_of is None:
            return self
        whole = self.point.percent_of.decode(raw)
        if not isinstance(whole, int | float) or whole <= 0:
            return replace(self, minimum=0, maximum=0, scaled_by={})
        low, high = (float(Decimal(str(bound)) * Decimal(str(whole)) / 100) for bound in self.per_cent)
        read = {address: raw[address] for group in self.point.percent_of.groups for address in group}
        return replace(self, minimum=low, maximum=high, scaled_by=read)

    @property
    def is_known(self) -> bool:
        """Whether its bounds are known."""
        return self.per_cent is None or bool(self.scaled_by)

    @property
    def step(self) -> float:
        """The least difference that the register can hold."""
        return self.point.step(self.scaled_by)

    @property
    def can_be_zero(self) -> bool:
        """Whether 0 can be written: its window does nothing then."""
        if not self.is_known:
            return self.per_cent is not None and self.per_cent[0] <= 0 and self.point.offset == 0
        return self.nearest(0) == 0

    def nearest(self, value: float, at_most: float | None = None) -> float | None:
        """Return what would be stored for a value, within the bounds and at most so much; None when that cannot be."""
        if not self.is_known:
            return None
        most = self.maximum if at_most is None else min(self.maximum, at_most)
        return self.point.nearest(value, self.minimum, most, self.scaled_by)


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
        limits = (limit.point for limit in limits_of(self))
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
        limits = (limit.point for limit in limits_of(self))
        return (self.start, self.charging, *limits)


LIMITS = ("current", "power", "stop_level")
"""The limits of a window."""


def limits_of(where: WindowPoints | ListPoint) -> tuple[Limit, ...]:
    """Return the limits that a window, or a point of a list, has."""
    return tuple(limit for limit in (where.current, where.power, where.stop_level) if limit is not None)


def _known[Where: (WindowPoints, ListPoint)](where: Where, raw: Raw) -> Where:
    """Return the same with the bounds of limits that follow from what was read."""
    limits: dict[str, Any] = {name: limit.known(raw) for name in LIMITS if (limit := getattr(where, name)) is not None}
    return replace(where, **limits)


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
    def charge_places(self) -> int:
        """How many charge windows it can hold at any times; a list of times holds more only where they follow each other."""
        return len(self.list_of_times) // 2 or len(self.charge)

    @property
    def addresses(self) -> tuple[Address, ...]:
        """All registers of the schedule, what arms it among them: those that may be written."""
        return tuple(sorted({address for point in self.parts for address in point.addresses}))

    def known(self, raw: Raw) -> SchedulePoints:
        """Return the same with the bounds of limits that follow from what was read; the same one where none do."""
        places: tuple[WindowPoints | ListPoint, ...] = (*self.charge, *self.discharge, *self.list_of_times)
        if all(limit.per_cent is None for where in places for limit in limits_of(where)):
            return self
        return replace(
            self,
            charge=tuple(_known(where, raw) for where in self.charge),
            discharge=tuple(_known(where, raw) for where in self.discharge),
            list_of_times=tuple(_known(where, raw) for where in self.list_of_times),
        )

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
