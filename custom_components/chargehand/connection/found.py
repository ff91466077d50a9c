"""What testing a connection comes to: an inverter that was found, or the exact mistake."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta
from statistics import median

from ..core.inverter import LineShare, ReadingValue
from ..core.registers import RegisterMap, Value
from ..core.schedule import Schedule
from ..messages import text

ROUND_TRIPS = 20
"""Requests whose times are measured."""


def median_and_worst(seconds: Sequence[float]) -> tuple[float, float]:
    """Return the median and the longest of these times in ms."""
    return round(median(seconds) * 1000, 1), round(max(seconds) * 1000, 1)


@dataclass(frozen=True, kw_only=True, slots=True)
class Found:
    """An inverter that answered as its map describes."""

    register_map: RegisterMap
    unit: int
    identity: Mapping[str, Value | None]
    serial: str | None
    level: float | None
    values: Mapping[str, ReadingValue]
    """All readings and controls of the map, as they were read."""

    schedule: Schedule | None
    """What the inverter holds; None if the map describes no schedule."""

    clock_offset: float | None
    """In seconds."""

    connect_ms: float
    """Time to connect and identify the inverter; with SunSpec, also to read its map."""

    round_trip_ms: float
    """Median of 20 short reads."""

    worst_round_trip_ms: float
    share: LineShare
    """Share of the line that polling everything takes."""

    fits: tuple[str, ...] = ()
    """Titles of all other maps that fit what answers."""


class NotFound(Exception):
    """No usable inverter answered. `key` is the form's error, `detail` is text about the cause, `lines` what a map has wrong."""

    def __init__(self, key: str, detail: str = "", lines: tuple[str, ...] = ()) -> None:
        """Initialize the error with its key, detail and lines."""
        super().__init__(key)
        self.key = key
        self.detail = detail
        self.lines = lines


def offset_text(offset: float | None) -> str:
    """Return a clock's offset as text: hours, minutes and seconds, ahead or behind."""
    if offset is None:
        return "–"
    seconds = round(abs(offset))
    if seconds == 0:
        return "0 s"
    return text("probe_ahead" if offset > 0 else "probe_behind", time=timedelta(seconds=seconds))
