"""Reading a request: what was typed, turned into what this inverter can hold, with every reason why it cannot."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from ..reasons import Reason
from ..registers import Limit, SchedulePoints, WindowPoints
from .image import Image, NoRoom, check_room, moved, points_of
from .list_of_times import points_needed
from .number_input import NullType, number_of, shown
from .request import Adjustment, WindowRequest
from .shared_values import INSTEAD, SharedValues
from .slot_image import LIMITS, limit_of, taken_off
from .windows import DAY, Schedule, Side, Window, time_text


@dataclass(frozen=True, kw_only=True, slots=True)
class _Limits:
    """The limits that a window asks for, in A, W and %; None: left out. `unread` could not be understood, and was reported."""

    current: float | None = None
    power: float | None = None
    stop_level: float | None = None
    unread: frozenset[str] = frozenset()


class RequestReader:
    """One pass over a request. It collects reasons and adjustments as it goes."""

    def __init__(self, points: SchedulePoints, shift: int, voltage: float | None) -> None:
        """Read for the places of `points`; `shift` in minutes and `voltage` in V are those of `check`."""
        self.points = points
        self.shift = shift
        self.voltage = voltage
        self.reasons: list[Reason] = []
        self.adjusted: list[Adjustment] = []

    def fault(self, key: str, **values: object) -> None:
        """Add a reason why the request cannot be on this inverter."""
        self.reasons.append(Reason.of(key, **values))

    def windows(self, side: Side, wanted: Sequence[WindowRequest], held: tuple[Window, ...]) -> tuple[Window, ...]:
        """Put the windows asked for into the inverter's places in their order; the rest become unused."""
        if len(wanted) > len(held):
            self.fault("too_many_windows", side=side, given=len(wanted), possible=len(held))
        places = points_of(self.points, side)
        windows = [taken_off(place, window) for place, window in zip(places, held, strict=True)]
        shared = SharedValues(places, wanted)
        for index, (request, window) in enumerate(zip(wanted, held, strict=False)):
            what = f"{side}_window_{index + 1}"
            times = self.times(what, request)
            asked = self.limits(what, request)
            limits = {
                name: self.limit(what, name, limit_of(places[index], name), asked, window)
                for name in LIMITS
                if not shared.left_to_another(request, name)
            }
            shared.add(request, limits)
            if request.current is not None and request.power is not None and not self.has_both(places[index]):
                self.fault("current_and_power", what=what)
            if times is not None:
                windows[index] = Window(
                    start=times[0],
                    end=times[1],
                    current=limits.get("current"),
                    power=limits.get("power"),
                    stop_level=limits.get("stop_level"),
                )
        for name, values in shared.differing():
            self.fault("shared_differs", side=side, limit=name, values=values)
        common: dict[str, Any] = shared.common()
        return tuple(replace(window, **common) for window in windows)

    def edited(self, side: Side, number: int, old: Window, new: Window) -> Window:
        """Return one window after an edit: what was edited of it, as the inverter can hold it."""
        what = f"{side}_window_{number}"
        if new.start != new.end:
            self.times(what, WindowRequest(start=time_text(new.start), end=time_text(new.end)))
        limits: dict[str, float | None] = {name: getattr(new, name) for name in LIMITS}
        for name, value in limits.items():
            if value is not None and value != getattr(old, name):
                asked = self.limits(what, WindowRequest(start="", end="", **{name: value}))
                limits[name] = self.limit(what, name, limit_of(self.place(what), name), asked, new)
        return replace(
            new,
            current=limits["current"],
            power=limits["power"],
            stop_level=limits["stop_level"],
            days=None,
            other_use=None,
        )

    def limits(self, what: str, request: WindowRequest) -> _Limits:
        """Return the limits that a window asks for. Adds a reason for each that is no number."""
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
            if value is NullType.NULL:
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
        """Return start and end in minutes of the day; None, with a reason, where there are none to work with."""
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
        if (start, end) == (0, DAY) and self.points.latest_end == "00:00" and not self.place(what).by_duration:
            self.fault("whole_day", what=what)
        for name, minute in (("start", start), ("end", end)):
            if (minute + self.shift) % self.points.step_minutes:
                self.fault("not_on_step", what=f"{what}_{name}", time=time_text(minute), step=self.points.step_minutes)
        return start, end

    def time(self, what: str, value: object) -> int | None:
        """Return the minutes of the day of "HH:MM"; seconds are taken when they are 00."""
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
        """Return whether a place of the inverter keeps a current and a power."""
        return place.current is not None and place.power is not None

    def points_of_list(self, schedule: Schedule) -> None:
        """Add a reason where the charge windows take more points than a list of times has."""
        needed = points_needed(moved(window, self.shift) for window in schedule.charge)
        possible = len(self.points.list_of_times)
        if possible and needed > possible:
            self.fault("list_full", needed=needed, possible=possible)

    def room(self, schedule: Schedule, image: Image) -> None:
        """Add a reason for each side whose windows have no room; one over midnight may take two places."""
        if self.points.list_of_times:
            self.points_of_list(schedule)
            return
        for side in Side:
            try:
                check_room(self.points, side, schedule.side(side), image, self.shift)
            except NoRoom as fault:
                self.fault("no_room", side=side, what=f"{side}_window_{fault.place + 1}")

    def limit(self, what: str, name: str, limit: Limit | None, request: _Limits, held: Window) -> float | None:
        """Return the limit to write: what was asked, turned into this inverter's unit and step, or what it holds already."""
        kept: float | None = getattr(held, name)
        asked: float | None = getattr(request, name)
        if not request.unread.isdisjoint({name, INSTEAD.get(name)}):
            return kept
        if limit is None:
            if asked is not None and not self.taken_otherwise(what, name):
                self.fault("no_such_limit", what=what, limit=name)
            return None
        key = f"{what}_{name}"
        if not limit.is_known:
            self.fault("percent_unknown", what=key)
            return kept
        value = asked if asked is not None else self.converted(what, name, request)
        if value is None:
            if kept is None:
                self.fault("limit_not_held", what=key)
            elif not limit.minimum <= kept <= limit.maximum or (name != "stop_level" and kept == 0):
                self.fault("limit_missing", what=key, held=f"{kept:g}", unit=limit.unit)
            return kept
        rounded = limit.nearest(value)
        if rounded is None:
            bounds = {"what": key, "unit": limit.unit, "minimum": f"{limit.minimum:g}", "maximum": f"{limit.maximum:g}"}
            if asked is not None:
                self.fault("out_of_range", value=f"{value:g}", **bounds)
            else:
                requested = f"{request.power:g} W" if name == "current" else f"{request.current:g} A"
                self.fault("converted_out_of_range", asked=requested, value=f"{value:.1f}", **bounds)
            return None
        if rounded != value:
            self.adjusted.append(
                Adjustment(
                    what=key, requested=f"{value:g} {limit.unit}", applied=f"{rounded:g} {limit.unit}", why="rounded"
                )
            )
        return float(rounded)

    def place(self, what: str) -> WindowPoints:
        """Return where the inverter keeps the window called `what`, like `charge_window_1`."""
        side, number = what.split("_window_")
        return points_of(self.points, Side(side))[int(number) - 1]

    def taken_otherwise(self, what: str, name: str) -> bool:
        """Return whether the inverter takes the other of current and power, so that this one is converted there."""
        other = INSTEAD.get(name)
        return other is not None and limit_of(self.place(what), other) is not None

    def converted(self, what: str, name: str, request: _Limits) -> float | None:
        """Return a limit in watts for an inverter that takes amperes, or the other way, through the battery's voltage."""
        other = {"current": request.power, "power": request.current}.get(name)
        if other is None or self.has_both(self.place(what)):
            return None
        if not self.voltage:
            self.fault("no_voltage", what=what)
            return None
        if name == "current":
            value, unit, taken, why = other / self.voltage, "W", "A", "watts_to_amperes"
        else:
            value, unit, taken, why = other * self.voltage, "A", "W", "amperes_to_watts"
        self.adjusted.append(
            Adjustment(what=f"{what}_{name}", requested=f"{other:g} {unit}", applied=f"{value:.1f} {taken}", why=why)
        )
        return value
