"""A register map as it is used: loaded and checked once, then never changed."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum
from typing import TypeIs

from .layouts import ClockPoint, TimePoint
from .points import Address, Group, Point, Raw, Table, Value


class Poll(StrEnum):
    """How often something is read."""

    FAST = "fast"
    SLOW = "slow"
    ONCE = "once"


class Keeps(StrEnum):
    """Which time the inverter's clock keeps."""

    LOCAL = "local"
    STANDARD = "standard"
    UTC = "utc"


class ControlKind(StrEnum):
    """What a control looks like to a user."""

    SWITCH = "switch"
    NUMBER = "number"
    SELECT = "select"


@dataclass(frozen=True, kw_only=True, slots=True)
class Span:
    """Registers from `first` to `last`, both included."""

    table: Table
    first: int
    last: int


@dataclass(frozen=True, kw_only=True, slots=True)
class LineRules:
    """How this inverter wants to be spoken to. Lengths in registers, times in ms."""

    unit: int = 1
    numbering: str = "from_0"
    """How the map's file counts addresses; everything loaded from it counts as on the wire."""

    longest_read: int = 125
    longest_write: int = 123
    write_function: int = 16
    mask_write: bool = False
    """Whether the inverter changes single bits of a register by itself (function 22)."""

    pause_ms: int = 0
    timeout_ms: int = 3000
    settle_ms: int = 200
    no_read: tuple[Span, ...] = ()

    @property
    def first_number(self) -> int:
        """What the map's file calls the first register: 0 or 1."""
        return 1 if self.numbering == "from_1" else 0


@dataclass(frozen=True, kw_only=True, slots=True)
class Identity:
    """A value that tells which inverter this is. `expect` empty: any value will do."""

    key: str
    point: Point
    expect: tuple[Value, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class Reading:
    """A value that is read, in its quantity's own unit and direction."""

    key: str
    point: Point
    poll: Poll = Poll.FAST
    name: str | None = None
    """The map's own name; None for a known reading, which is named by translation."""

    unit: str | None = None
    device_class: str | None = None
    state_class: str | None = None
    labels: Mapping[int, str] = field(default_factory=dict)
    flags: Mapping[int, str] = field(default_factory=dict)

    def decode(self, raw: Raw) -> Value | tuple[str, ...] | None:
        """The value; a label; or the texts of the flags that are set. None when there is none."""
        value = self.point.decode(raw)
        if value is None:
            return None
        if self.flags:
            return tuple(text for bit, text in self.flags.items() if int(value) >> bit & 1)
        if self.labels:
            return self.labels.get(int(value))
        return value


class ValueRefused(ValueError):
    """A control may not be set to this; `key` and `values` say why for whoever has words of his own."""

    def __init__(self, why: str, key: str, **values: str) -> None:
        """Keep all three."""
        super().__init__(why)
        self.key = key
        self.values = values


@dataclass(frozen=True, kw_only=True, slots=True)
class Control:
    """A value that can also be set."""

    key: str
    point: Point
    kind: ControlKind
    poll: Poll = Poll.SLOW
    name: str | None = None
    unit: str | None = None
    minimum: float = 0
    maximum: float = 65535
    step: float | None = None
    """The map's own, counted from the minimum; None: as fine as the register tells."""

    labels: Mapping[int, str] = field(default_factory=dict)

    @property
    def least_step(self) -> float:
        """The least difference that can be set."""
        return abs(float(self.point.scale)) if self.step is None else self.step

    def decode(self, raw: Raw) -> Value | None:
        """The value, or its label. None when there is none."""
        value = self.point.decode(raw)
        if self.labels and value is not None:
            return self.labels.get(int(value))
        return value

    def encode(self, value: Value, raw: Raw) -> dict[Address, int]:
        """The registers that hold `value`. Raises ValueRefused when it may not be set to that, ValueError as `Point.encode`."""
        if self.labels:
            for number, label in self.labels.items():
                if label == value:
                    return self.point.encode(number, raw)
            offered = ", ".join(self.labels.values())
            raise ValueRefused(f"{value!r} is none of {offered}", "not_offered", value=str(value), offered=offered)
        if self.kind is ControlKind.NUMBER:
            value = self._bounded(value, raw)
        return self.point.encode(value, raw)

    def _bounded(self, value: Value, raw: Raw) -> float:
        """The nearest number that can be set, within the bounds. Raises ValueRefused when that cannot be."""
        if _is_number(value):
            near = self.point.nearest(self._on_step(value), self.minimum, self.maximum, raw)
            if near is not None:
                return near
        least, most, given = f"{self.minimum:g}", f"{self.maximum:g}", f"{value!r:.40}"
        why = f"{given} is not a number from {least} to {most}"
        raise ValueRefused(why, "not_in_range", value=given, minimum=least, maximum=most)

    def _on_step(self, value: float) -> float:
        """The value on the map's own steps, where it is within the bounds."""
        if self.step is None or not self.minimum <= value <= self.maximum:
            return value
        first, step = Decimal(str(self.minimum)), Decimal(str(self.step))
        steps = ((Decimal(str(value)) - first) / step).to_integral_value()
        last = (Decimal(str(self.maximum)) - first) // step
        return float(first + min(steps, last) * step)


def _is_number(value: Value) -> TypeIs[float | int]:
    return isinstance(value, int | float) and not isinstance(value, bool)


@dataclass(frozen=True, kw_only=True, slots=True)
class Clock:
    """The inverter's clock."""

    point: ClockPoint
    keeps: Keeps = Keeps.LOCAL
    poll: Poll = Poll.SLOW


@dataclass(frozen=True, kw_only=True, slots=True)
class Limit:
    """A number that belongs to a window: a current in A, a power in W or a level in %."""

    point: Point
    unit: str
    minimum: float
    maximum: float

    @property
    def step(self) -> float:
        """The least difference that the register can tell."""
        return abs(float(self.point.scale))

    @property
    def can_be_zero(self) -> bool:
        """Whether 0 can be written: its window does nothing then."""
        return self.nearest(0) == 0

    def nearest(self, value: float, at_most: float | None = None) -> float | None:
        """What would be stored for a value, within the bounds and at most so much; None when that cannot be."""
        most = self.maximum if at_most is None else min(self.maximum, at_most)
        return self.point.nearest(value, self.minimum, most)


@dataclass(frozen=True, kw_only=True, slots=True)
class WindowPoints:
    """Where one window is kept."""

    start: TimePoint
    end: TimePoint
    current: Limit | None = None
    power: Limit | None = None
    stop_level: Limit | None = None
    active: Point | None = None

    @property
    def addresses(self) -> tuple[Address, ...]:
        """All registers that it takes."""
        return tuple(dict.fromkeys(address for point in self.parts for address in point.addresses))

    @property
    def parts(self) -> tuple[Point | TimePoint, ...]:
        """All that it is made of."""
        limits = (limit.point for limit in (self.current, self.power, self.stop_level) if limit is not None)
        return (self.start, self.end, *limits, *(() if self.active is None else (self.active,)))


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

    @property
    def addresses(self) -> tuple[Address, ...]:
        """All registers of the schedule, what arms it among them: those that may be written."""
        return tuple(sorted({address for point in self.parts for address in point.addresses}))

    @property
    def groups(self) -> tuple[Group, ...]:
        """All registers needed to tell the schedule, by what comes in one read."""
        return tuple(dict.fromkeys(group for point in self.parts for group in point.groups))

    @property
    def parts(self) -> tuple[Point | TimePoint, ...]:
        """All that it is made of, what arms it first."""
        arming = () if self.armed_by is None else (self.armed_by.control.point,)
        return (*arming, *(point for window in (*self.charge, *self.discharge) for point in window.parts))


@dataclass(frozen=True, kw_only=True, slots=True)
class RegisterMap:
    """Where one kind of inverter keeps what, and how it is written down."""

    id: str
    title: str
    maker: str
    model: str
    source: str
    line: LineRules
    identity: tuple[Identity, ...] = ()
    readings: Mapping[str, Reading] = field(default_factory=dict)
    controls: Mapping[str, Control] = field(default_factory=dict)
    clock: Clock | None = None
    schedule: SchedulePoints | None = None

    @property
    def writable(self) -> frozenset[Address]:
        """The registers that may be written: those of controls, clock and schedule, and no other."""
        points: list[Point | TimePoint | ClockPoint] = [control.point for control in self.controls.values()]
        points += [] if self.clock is None else [self.clock.point]
        points += [] if self.schedule is None else self.schedule.parts
        return frozenset(address for point in points for address in point.addresses)
