"""What a user asks for, checked against what this inverter can hold. Nothing is sent before all of it has passed."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from ..registers import Limit, SchedulePoints, WindowPoints
from .given_numbers import Given, number_of, shown
from .image import LIMITS, Image, NoRoom, can_disarm, check_room, limit_of, points_of, read_schedule
from .windows import DAY, Schedule, Side, Window, time_text

_INSTEAD: Mapping[str, str] = {"current": "power", "power": "current"}
"""The limit that may be given instead of one, to be converted."""


@dataclass(frozen=True, kw_only=True, slots=True)
class WindowRequest:
    """A window as it was typed. A limit left out (None) stays as the inverter has it."""

    start: object
    end: object
    current: object = None
    power: object = None
    stop_level: object = None


@dataclass(frozen=True, kw_only=True, slots=True)
class _Limits:
    """The limits that a window asks for, in A, W and %; None: left out. `unread` could not be understood, and was told."""

    current: float | None = None
    power: float | None = None
    stop_level: float | None = None
    unread: frozenset[str] = frozenset()


@dataclass(frozen=True, kw_only=True, slots=True)
class ScheduleRequest:
    """A schedule as it was typed. A side left out (None) stays as it is; windows not given become unused."""

    charge: Sequence[WindowRequest] | Given | None = None
    discharge: Sequence[WindowRequest] | Given | None = None
    armed: bool = True
    override: bool = False
    """Charge although the battery's own limit or its temperature speaks against it."""

    def side(self, side: Side) -> Sequence[WindowRequest] | Given | None:
        """The windows asked for on one side."""
        return self.charge if side is Side.CHARGE else self.discharge


@dataclass(frozen=True, kw_only=True, slots=True)
class Reason:
    """Why a schedule cannot be on this inverter: a translation key and what goes into its text."""

    key: str
    values: Mapping[str, str] = field(default_factory=dict)

    def __str__(self) -> str:
        """Key and values, for logs."""
        return f"{self.key} {dict(self.values)}"


@dataclass(frozen=True, kw_only=True, slots=True)
class Adjustment:
    """Where what was asked and what is given differ. `why` is `rounded`, `watts_to_amperes`, `amperes_to_watts` or `battery_limit`."""

    what: str
    asked: str
    given: str
    why: str


class Rejected(Exception):
    """The schedule cannot be on this inverter. Every reason is listed; nothing was sent."""

    def __init__(self, reasons: Sequence[Reason]) -> None:
        """Keep all reasons."""
        super().__init__("; ".join(str(reason) for reason in reasons))
        self.reasons = tuple(reasons)


@dataclass(frozen=True, kw_only=True, slots=True)
class Checked:
    """A request that passed: the schedule to take the inverter to, and what was adjusted on the way."""

    schedule: Schedule
    adjusted: tuple[Adjustment, ...]


class _Reading:
    """One pass over a request: collects reasons and adjustments as it goes."""

    def __init__(self, points: SchedulePoints, shift: int, voltage: float | None) -> None:
        self.points = points
        self.shift = shift
        self.voltage = voltage
        self.reasons: list[Reason] = []
        self.adjusted: list[Adjustment] = []

    def fault(self, key: str, **values: object) -> None:
        self.reasons.append(Reason(key=key, values={name: str(value) for name, value in values.items()}))

    def windows(self, side: Side, wanted: Sequence[WindowRequest], held: tuple[Window, ...]) -> tuple[Window, ...]:
        """Put the windows asked for into the inverter's places in their order; the rest become unused."""
        if len(wanted) > len(held):
            self.fault("too_many_windows", side=side, given=len(wanted), possible=len(held))
        places = points_of(self.points, side)
        windows = [
            window.unused() if place.active is None else replace(window, active=False)
            for place, window in zip(places, held, strict=True)
        ]
        for index, (request, window) in enumerate(zip(wanted, held, strict=False)):
            what = f"{side}_window_{index + 1}"
            times = self.times(what, request)
            asked = self.limits(what, request)
            limits = {name: self.limit(what, name, limit_of(places[index], name), asked, window) for name in LIMITS}
            if request.current is not None and request.power is not None and not self.has_both(places[index]):
                self.fault("current_and_power", what=what)
            if times is not None:
                windows[index] = Window(
                    start=times[0],
                    end=times[1],
                    current=limits["current"],
                    power=limits["power"],
                    stop_level=limits["stop_level"],
                )
        return tuple(windows)

    def edited(self, side: Side, number: int, old: Window, new: Window) -> Window:
        """One window after an edit: what was edited of it, as the inverter can hold it."""
        what = f"{side}_window_{number}"
        if new.start != new.end:
            self.times(what, WindowRequest(start=time_text(new.start), end=time_text(new.end)))
        limits: dict[str, float | None] = {name: getattr(new, name) for name in LIMITS}
        for name, value in limits.items():
            if value is not None and value != getattr(old, name):
                asked = self.limits(what, WindowRequest(start="", end="", **{name: value}))
                limits[name] = self.limit(what, name, limit_of(self.place(what), name), asked, new)
        return replace(new, current=limits["current"], power=limits["power"], stop_level=limits["stop_level"])

    def limits(self, what: str, request: WindowRequest) -> _Limits:
        read: dict[str, float] = {}
        unread: set[str] = set()
        for name in LIMITS:
            value: object = getattr(request, name)
            if value is None:
                continue
            number = number_of(value)
            if number is not None:
                read[name] = number
                continue
            unread.add(name)
            if value is Given.NOTHING:
                self.fault("value_empty", what=f"{what}_{name}")
            else:
                self.fault("not_a_number", what=f"{what}_{name}", value=shown(value))
        return _Limits(
            current=read.get("current"),
            power=read.get("power"),
            stop_level=read.get("stop_level"),
            unread=frozenset(unread),
        )

    def times(self, what: str, request: WindowRequest) -> tuple[int, int] | None:
        start, end = self.time(f"{what}_start", request.start), self.time(f"{what}_end", request.end)
        if start is None or end is None:
            return None
        if start == DAY:
            self.fault("start_at_24", what=what)
            return None
        if start == end:
            self.fault("no_length", what=what, time=time_text(start))
            return None
        end = end or DAY
        if (start, end) == (0, DAY) and self.points.latest_end == "00:00":
            self.fault("whole_day", what=what)
        for name, minute in (("start", start), ("end", end)):
            if (minute + self.shift) % self.points.step_minutes:
                self.fault("not_on_step", what=f"{what}_{name}", time=time_text(minute), step=self.points.step_minutes)
        return start, end

    def time(self, what: str, value: object) -> int | None:
        """Minutes of the day of "HH:MM"; seconds are taken when they are 00."""
        if not isinstance(value, str):
            self.fault("time_not_text", what=what, value=shown(value))
            return None
        parts = value.strip().split(":")
        if (
            len(parts) not in (2, 3)
            or not all(part.isascii() and part.isdigit() and len(part) <= 2 for part in parts)
            or (len(parts) == 3 and int(parts[2]) != 0)
        ):
            self.fault("no_time", what=what, value=value)
            return None
        hour, minute = int(parts[0]), int(parts[1])
        if minute > 59 or hour * 60 + minute > DAY:
            self.fault("no_time", what=what, value=value)
            return None
        return hour * 60 + minute

    @staticmethod
    def has_both(place: WindowPoints) -> bool:
        return place.current is not None and place.power is not None

    def room(self, schedule: Schedule, image: Image) -> None:
        """Whether each side's windows have room; one over midnight may take two places."""
        for side in Side:
            try:
                check_room(self.points, side, schedule.side(side), image, self.shift)
            except NoRoom as fault:
                self.fault("no_room", side=side, what=f"{side}_window_{fault.place + 1}")

    def limit(self, what: str, name: str, limit: Limit | None, request: _Limits, held: Window) -> float | None:
        """The limit to write: what was asked, turned into this inverter's unit and step, or what it holds already."""
        kept: float | None = getattr(held, name)
        asked: float | None = getattr(request, name)
        if not request.unread.isdisjoint({name, _INSTEAD.get(name)}):
            return kept
        if limit is None:
            if asked is not None and not self.given_otherwise(what, name):
                self.fault("no_such_limit", what=what, limit=name)
            return None
        value = asked if asked is not None else self.converted(what, name, request)
        key = f"{what}_{name}"
        if value is None:
            if kept is None or not limit.minimum <= kept <= limit.maximum or (name != "stop_level" and kept == 0):
                self.fault("limit_missing", what=key, held=f"{kept:g}" if kept is not None else "-", unit=limit.unit)
            return kept
        given = limit.nearest(value)
        if given is None:
            bounds = {"what": key, "unit": limit.unit, "minimum": f"{limit.minimum:g}", "maximum": f"{limit.maximum:g}"}
            if asked is not None:
                self.fault("out_of_range", value=f"{value:g}", **bounds)
            else:
                given_as = f"{request.power:g} W" if name == "current" else f"{request.current:g} A"
                self.fault("converted_out_of_range", asked=given_as, value=f"{value:.1f}", **bounds)
            return None
        if given != value:
            self.adjusted.append(
                Adjustment(what=key, asked=f"{value:g} {limit.unit}", given=f"{given:g} {limit.unit}", why="rounded")
            )
        return float(given)

    def place(self, what: str) -> WindowPoints:
        side, number = what.split("_window_")
        return points_of(self.points, Side(side))[int(number) - 1]

    def given_otherwise(self, what: str, name: str) -> bool:
        """Whether the inverter takes the other of current and power, so that this one is converted there."""
        other = _INSTEAD.get(name)
        return other is not None and limit_of(self.place(what), other) is not None

    def converted(self, what: str, name: str, request: _Limits) -> float | None:
        """A limit given in watts for an inverter that takes amperes, or the other way, through the battery's voltage."""
        other = {"current": request.power, "power": request.current}.get(name)
        if other is None or self.has_both(self.place(what)):
            return None
        if not self.voltage:
            self.fault("no_voltage", what=what)
            return None
        if name == "current":
            value, asked, given, why = other / self.voltage, "W", "A", "watts_to_amperes"
        else:
            value, asked, given, why = other * self.voltage, "A", "W", "amperes_to_watts"
        self.adjusted.append(
            Adjustment(what=f"{what}_{name}", asked=f"{other:g} {asked}", given=f"{value:.1f} {given}", why=why)
        )
        return value


def check(
    points: SchedulePoints, image: Image, request: ScheduleRequest, *, shift: int = 0, voltage: float | None = None
) -> Checked:
    """Turn a request into the schedule that the inverter, which holds `image`, is to have.

    `shift`: minutes the inverter's clock is ahead of the house's. `voltage`: the battery's, for limits in the other unit.
    Raises Rejected with every reason found.
    """
    reading = _Reading(points, shift, voltage)
    held = read_schedule(points, image, shift)
    windows = dict[Side, tuple[Window, ...]]()
    for side in Side:
        wanted = request.side(side)
        windows[side] = held.side(side)
        if isinstance(wanted, Given):
            reading.fault("side_empty", side=side)
        elif wanted is not None:
            windows[side] = reading.windows(side, wanted, held.side(side))
    armed = request.armed if points.armed_by is not None else None
    if not request.armed and held.armed is not False and not can_disarm(points):
        reading.fault("cannot_disarm")
    new = Schedule(charge=windows[Side.CHARGE], discharge=windows[Side.DISCHARGE], armed=armed)
    reading.room(new, image)
    reading.reasons += overlaps(new, held)
    if reading.reasons:
        raise Rejected(reading.reasons)
    return Checked(schedule=new, adjusted=tuple(reading.adjusted))


def check_window(
    points: SchedulePoints, side: Side, number: int, old: Window, new: Window, *, shift: int = 0
) -> Window:
    """Return what becomes of one window by an edit, whatever stands beside it. Raises Rejected with every reason found."""
    reading = _Reading(points, shift, None)
    window = reading.edited(side, number, old, new)
    if reading.reasons:
        raise Rejected(reading.reasons)
    return window


def check_edit(points: SchedulePoints, image: Image, edited: Schedule, *, shift: int = 0) -> Schedule:
    """What becomes of a schedule that differs from what `image` says by edits. Raises Rejected with every reason found."""
    reading, given = _Reading(points, shift, None), edited
    held = read_schedule(points, image, shift)
    if edited.armed is False and held.armed and not can_disarm(points):
        reading.fault("cannot_disarm")
    for (side, number, old), (_, _, new) in zip(held.places(), edited.places(), strict=True):
        if old != new:
            given = given.with_window(side, number, reading.edited(side, number, old, new))
    reading.room(given, image)
    reading.reasons += overlaps(given, held)
    if reading.reasons:
        raise Rejected(reading.reasons)
    return given


def overlaps(new: Schedule, held: Schedule) -> list[Reason]:
    """Windows that cover a minute together, where at least one of the two is new: what stood so before is not this request's."""
    before = {(side, number): window for side, number, window in held.places()}
    places = list(new.places())
    found: list[Reason] = []
    for index, (side, number, window) in enumerate(places):
        for other_side, other_number, other in places[index + 1 :]:
            untouched = before[side, number] == window and before[other_side, other_number] == other
            if not untouched and window.overlaps(other):
                found.append(
                    Reason(
                        key="overlap",
                        values={
                            "first": f"{side}_window_{number}",
                            "first_times": f"{time_text(window.start)}–{time_text(window.end)}",
                            "second": f"{other_side}_window_{other_number}",
                            "second_times": f"{time_text(other.start)}–{time_text(other.end)}",
                        },
                    )
                )
    return found
