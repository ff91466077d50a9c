"""A register map as it is used: loaded and checked once, then never changed."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from .catalogue import OPPOSITE
from .clock_layouts import ClockPoint
from .command_writes import WritesAround
from .composed_points import Readable
from .control_points import Control
from .layouts import TimePoint
from .points import Address, Point, Raw, Table, Value
from .poll_rate import Poll
from .problems import Problem
from .schedule_points import SchedulePoints


class Keeps(StrEnum):
    """Which time the inverter's clock keeps."""

    LOCAL = "local"
    STANDARD = "standard"
    UTC = "utc"


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
    block_starts: tuple[Address, ...] = ()
    """Registers that begin a block: no read goes from before one of them to it."""

    @property
    def first_number(self) -> int:
        """What the map's file calls the first register: 0 or 1."""
        return 1 if self.numbering == "from_1" else 0


@dataclass(frozen=True, kw_only=True, slots=True)
class Identity:
    """A value that identifies this inverter. `expect` empty: any value will do."""

    key: str
    point: Point
    expect: tuple[Value, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class Reading:
    """A value that is read, in its quantity's own unit and direction."""

    key: str
    point: Readable
    poll: Poll = Poll.FAST
    name: str | None = None
    """The map's own name; None for a known reading, which is named by translation."""

    unit: str | None = None
    device_class: str | None = None
    state_class: str | None = None
    positive: str | None = None
    """What a positive number means as it is shown; None where there is no direction."""

    diagnostic: bool = False
    """Whether it is listed apart from the readings that everybody looks at."""

    labels: Mapping[int, str] = field(default_factory=dict)
    flags: Mapping[int, str] = field(default_factory=dict)

    @property
    def is_binary(self) -> bool:
        """Whether it is shown as on or off."""
        is_bit = isinstance(self.point, Point) and self.point.flag
        return bool(self.flags) or (is_bit and not self.labels)

    def decode(self, raw: Raw) -> Value | tuple[str, ...] | None:
        """Return the value; a label; or the texts of the flags that are set. None when there is none."""
        value = self.point.decode(raw)
        if value is None:
            return None
        if self.flags:
            return tuple(text for bit, text in self.flags.items() if int(value) >> bit & 1)
        if self.labels:
            return self.labels.get(int(value))
        return value

    def direction(self, value: float) -> str | None:
        """Return which way `value` goes, as shown: `charging`, `importing` and the like; `neither` at 0; None without a direction."""
        if self.positive is None:
            return None
        return "neither" if value == 0 else self.positive if value > 0 else OPPOSITE[self.positive]


@dataclass(frozen=True, kw_only=True, slots=True)
class Clock:
    """The inverter's clock."""

    point: ClockPoint
    keeps: Keeps = Keeps.LOCAL
    poll: Poll = Poll.SLOW
    around: WritesAround = field(default_factory=WritesAround)


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
    doubts: tuple[Problem, ...] = ()
    """What is doubtful in the file: the map works, and its author should look again."""
    presence: Address | None = None
    """A register that is read only to see whether the inverter answers, where there are no readings that would show it."""

    @property
    def writable(self) -> frozenset[Address]:
        """The registers that may be written: those of controls, clock and schedule, those around their changes, and no other."""
        points: list[Point | TimePoint | ClockPoint] = [control.point for control in self.controls.values()]
        points += [] if self.clock is None else [self.clock.point]
        points += [] if self.schedule is None else self.schedule.parts
        commands = (command.address for around in self.arounds for command in around.commands)
        return frozenset(address for point in points for address in point.addresses).union(commands)

    @property
    def arounds(self) -> tuple[WritesAround, ...]:
        """What is written around the changes of controls, clock and schedule."""
        clock = () if self.clock is None else (self.clock.around,)
        schedule = () if self.schedule is None else (self.schedule.around,)
        return (*(control.around for control in self.controls.values()), *clock, *schedule)
