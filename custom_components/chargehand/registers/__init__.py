"""Register maps: where an inverter keeps what, and how it is written down.

Hands out maps as loaded from YAML, their points and time layouts, and the cheapest batches of reads.
"""

from .batches import Batch, LineCost, batches, bus_seconds
from .catalogue import KNOWN_READINGS, KnownReading
from .layouts import ClockPoint, TimePoint
from .load import find_maps, load_map
from .model import (
    ArmedBy,
    Clock,
    Control,
    ControlKind,
    Identity,
    Keeps,
    Limit,
    LineRules,
    Poll,
    Reading,
    RegisterMap,
    SchedulePoints,
    Span,
    ValueRefused,
    WindowPoints,
)
from .points import Address, Group, Point, Raw, Table, Value
from .problems import MapInvalid, Problem
from .sunspec import SUNSPEC, SUNSPEC_UNREAD, read_sunspec_map
from .sunspec_chain import NotThere

__all__ = [
    "KNOWN_READINGS",
    "SUNSPEC",
    "SUNSPEC_UNREAD",
    "Address",
    "ArmedBy",
    "Batch",
    "Clock",
    "ClockPoint",
    "Control",
    "ControlKind",
    "Group",
    "Identity",
    "Keeps",
    "KnownReading",
    "Limit",
    "LineCost",
    "LineRules",
    "MapInvalid",
    "NotThere",
    "Point",
    "Poll",
    "Problem",
    "Raw",
    "Reading",
    "RegisterMap",
    "SchedulePoints",
    "Span",
    "Table",
    "TimePoint",
    "Value",
    "ValueRefused",
    "WindowPoints",
    "batches",
    "bus_seconds",
    "find_maps",
    "load_map",
    "read_sunspec_map",
]
