"""A register map as it is used: points, layouts, readings, controls, the schedule, and batches of reads."""

from .batches import Batch, LineCost, batches, bus_seconds, spans_of
from .catalogue import (
    BINARY_CLASSES,
    KNOWN_READINGS,
    MEASUREMENT,
    MULTIPLES,
    OPPOSITE,
    SENSOR_CLASSES,
    TOTAL_INCREASING,
    KnownReading,
)
from .clock_layouts import CLOCK_LAYOUTS, WEEKDAYS, ClockPoint
from .command_writes import AfterWrite, BeforeWrite, CommandWrite, WritesAround
from .composed_points import Directed, Readable, Sum
from .control_points import Control, ControlKind
from .layouts import TIME_LAYOUTS, TimePoint
from .model import (
    Clock,
    Identity,
    Keeps,
    LineRules,
    Reading,
    RegisterMap,
    Span,
)
from .number_types import NUMBERS, TEXT, bit_pattern
from .points import Address, Group, Point, Raw, Table, Value
from .poll_rate import Poll
from .problem_texts import cure, mistake
from .problems import MapInvalid, Problem, listed_doubts
from .schedule_points import ArmedBy, Limit, ListPoint, SchedulePoints, WindowPoints
from .slot_use import EVERY_DAY, Mode, Weekdays
from .text_registers import text_of
from .value_refused import ValueRefused

__all__ = [
    "BINARY_CLASSES",
    "CLOCK_LAYOUTS",
    "EVERY_DAY",
    "KNOWN_READINGS",
    "MEASUREMENT",
    "MULTIPLES",
    "NUMBERS",
    "OPPOSITE",
    "SENSOR_CLASSES",
    "TEXT",
    "TIME_LAYOUTS",
    "TOTAL_INCREASING",
    "WEEKDAYS",
    "Address",
    "AfterWrite",
    "ArmedBy",
    "Batch",
    "BeforeWrite",
    "Clock",
    "ClockPoint",
    "CommandWrite",
    "Control",
    "ControlKind",
    "Directed",
    "Group",
    "Identity",
    "Keeps",
    "KnownReading",
    "Limit",
    "LineCost",
    "LineRules",
    "ListPoint",
    "MapInvalid",
    "Mode",
    "Point",
    "Poll",
    "Problem",
    "Raw",
    "Readable",
    "Reading",
    "RegisterMap",
    "SchedulePoints",
    "Span",
    "Sum",
    "Table",
    "TimePoint",
    "Value",
    "ValueRefused",
    "Weekdays",
    "WindowPoints",
    "WritesAround",
    "batches",
    "bit_pattern",
    "bus_seconds",
    "cure",
    "listed_doubts",
    "mistake",
    "spans_of",
    "text_of",
]
