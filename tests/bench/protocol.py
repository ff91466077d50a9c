"""Rows of the control protocol's answers, the same at both of its ends."""

from typing import TypedDict

type Json = bool | int | float | str | list[Json] | dict[str, Json] | None


class Acted(TypedDict):
    """A schedule on which the inverter has acted."""

    seconds: float
    """Simulated seconds since the bench started."""
    clock: str
    """What the inverter's clock showed, ISO, local."""
    armed: bool
    windows: list[int]
    """All raw window registers, as it acts on them; empty while not armed, when it acts on no window."""


class Acting(TypedDict):
    """What the inverter does now, by what it has kept."""

    task: str
    """charge | discharge | follow_load | hold | feed_grid | keep_level."""
    by: str
    """The window that asks for it, as its table names it, `charge 1`; nothing while none does."""
    amps: float
    watts: float
    """The window's current and power, as far as its table has them; else 0."""
    until: float
    """The level in % where it ends."""
    from_grid: bool
    """Whether charging may take from the grid."""


class Entry(TypedDict):
    """A request that reached the inverter."""

    n: int
    """Counts from 1."""
    at: float
    """Monotonic seconds of this machine."""
    clock: str
    """What the inverter's clock showed, ISO, local."""
    client: str
    """c1, c2, … in the order of connecting, or logger."""
    unit: int
    function: int
    first: int
    count: int
    values: list[int]
    """Written values; empty for a read."""
    answer: str
    """values | written | exception 2 | none."""
    fault: str
    """The ordered fault that it met, or nothing."""


class Stats(TypedDict):
    """The line since the bench started."""

    requests: int
    bytes: int
    """On the serial line, both ways."""
    busy_seconds: float
    """By the line's own arithmetic: frames, silences, turnarounds."""
    measured_seconds: float
    """The same by this machine's clock."""
    waiting_seconds: float
    """The gateway waiting for a unit that does not answer."""
    collisions: int
    hurried_frames: int
    """Requests that came too soon after the frame before (`--frame-gap-ms`), and were not answered."""
    damaged_frames: int
    """Requests with a wrong CRC or without sense."""
    connections: int
    """Open now."""
    accepted: int
    refused: int
    """Connections closed at once by the connection limit."""
    faults_met: int
    faults_waiting: int


class BatteryState(TypedDict):
    """The battery, exactly."""

    level: float
    stored_wh: float
    celsius: float
    task: str
    battery_w: float
    battery_v: float
    battery_a: float
    ac_w: float
    grid_w: float
    load_w: float
    solar_w: float
    charged_wh: float
    discharged_wh: float
    imported_wh: float
    exported_wh: float
    load_wh: float
    solar_wh: float


class ClockState(TypedDict):
    """The inverter's clock."""

    clock: str
    drift_seconds_per_day: float
    seconds: float
    """Simulated seconds since the bench started."""
