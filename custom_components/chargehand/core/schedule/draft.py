"""A draft: windows that are being edited. It is shown and checked, and not yet on the inverter.

Windows that nobody has edited stay as the inverter has them, also where another hand changes them meanwhile.
"""

from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, field, replace
from typing import Any, Self

from ..reasons import Reason
from ..registers import Limit, SchedulePoints, WindowPoints
from .image import points_of
from .request import Adjustment, Rejected, ScheduleRequest
from .request_check import check_window, check_windows
from .slot_image import LIMITS, limit_of, taken_off
from .windows import DAY, Change, Schedule, Side, Window, changes, time_text

TIMES = frozenset({"start", "end"})

FIRST_MINUTES = 60
"""How long a window is at first that is switched on and never had times."""

LOWEST_LEVEL = 10.0
"""% that a new discharge window leaves in the battery, unless the map demands more (common practice, no source)."""

type Place = tuple[Side, int]
"""A window's side, and its number, which counts from 1."""

type Settings = Mapping[str, float | bool]
"""What is edited of a window: `start` and `end` in minutes of the day, `current` in A, `power` in W, `stop_level` in %, `active`."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Draft:
    """Edited windows, and the schedule that the inverter held when the first of them was edited."""

    base: Schedule
    windows: Mapping[Place, Window] = field(default_factory=dict)

    def upon(self, held: Schedule) -> Schedule:
        """Return the schedule that the draft makes of the one that the inverter holds."""
        schedule = held
        for (side, number), window in self.windows.items():
            schedule = schedule.with_window(side, number, window)
        return schedule

    def beneath(self, held: Schedule) -> tuple[Change, ...]:
        """Return what has changed in the inverter's windows since the draft began."""
        return changes(replace(self.base, armed=held.armed), held)

    def since(self, held: Schedule) -> Draft:
        """Return the same draft as one that begins now, without the windows that the inverter holds already."""
        kept = {place: window for place, window in self.windows.items() if _at(held, place) != window}
        return Draft(base=held, windows=kept)

    def fits(self, points: SchedulePoints) -> bool:
        """Return whether the map still has as many windows as when the draft began."""
        return all(len(points_of(points, side)) == len(self.base.side(side)) for side in Side)

    def edited(
        self, points: SchedulePoints, held: Schedule, place: Place, settings: Settings, *, shift: int = 0
    ) -> Draft:
        """Return the draft after an edit of one window, without windows that have come to be as the inverter holds them.

        `shift`: minutes that the inverter's clock is ahead of the house's. Raises Rejected with every reason that the window alone
        gives. Whether it fits beside the others is checked when the draft is applied.
        """
        shown = self.upon(held)
        before = _at(shown, place)
        edit = _Edit(where=points_of(points, place[0])[place[1] - 1], place=place, held=_at(held, place))
        others = [window for side, number, window in shown.places() if (side, number) != place]
        window = check_window(points, *place, before, edit.of(before, others, settings), shift=shift)
        edited = self.upon(held).with_window(*place, window)
        windows = {other: _at(edited, other) for other in (*self.windows, place)}
        # A limit that was typed into an unused window is shown, though it may be what the inverter keeps there unseen.
        if window == edit.held and not (window.start == window.end and settings.keys() & set(LIMITS)):
            del windows[place]
        return replace(self, windows=windows)

    def laid_out(
        self,
        points: SchedulePoints,
        held: Schedule,
        request: ScheduleRequest,
        *,
        shift: int = 0,
        voltage: float | None = None,
    ) -> tuple[Draft, tuple[Adjustment, ...]]:
        """Return the draft with whole sides as they were typed, and what was adjusted for that; a side left out stays as it is.

        Raises Rejected with every reason that windows give alone. Whether they fit beside each other is checked when the draft is applied.
        """
        checked = check_windows(points, held, request, shift=shift, voltage=voltage)
        windows = {place: window for place, window in self.windows.items() if request.side(place[0]) is None}
        for side, number, window in checked.schedule.places():
            before = _at(held, (side, number))
            both_unused = before.readable and not before.used and not window.used
            if request.side(side) is not None and window != before and not both_unused:
                windows[side, number] = window
        return replace(self, windows=windows), checked.adjusted

    def as_dict(self) -> dict[str, Any]:
        """Return the same as JSON data."""
        windows = [
            {"side": str(side), "number": number, "window": asdict(window)}
            for (side, number), window in self.windows.items()
        ]
        sides = {str(side): [asdict(window) for window in self.base.side(side)] for side in Side}
        return {"base": {**sides, "armed": self.base.armed}, "windows": windows}

    @classmethod
    def from_dict(cls, data: Mapping[str, Any]) -> Self:
        """Return what `as_dict` was made of. Raises KeyError, TypeError or ValueError for anything else."""
        charge, discharge = (tuple(map(window_from_dict, data["base"][str(side)])) for side in Side)
        base = Schedule(charge=charge, discharge=discharge, armed=data["base"]["armed"])
        windows = {(Side(one["side"]), int(one["number"])): window_from_dict(one["window"]) for one in data["windows"]}
        if any(number not in range(1, len(base.side(side)) + 1) for side, number in windows):
            raise ValueError("a draft's windows are among those of its base")
        return cls(base=base, windows=windows)


@dataclass(frozen=True, kw_only=True, slots=True)
class _Edit:
    """An edit of one window: where the map keeps it, and what the inverter holds there."""

    where: WindowPoints
    place: Place
    held: Window

    @property
    def what(self) -> str:
        return f"{self.place[0]}_window_{self.place[1]}"

    def of(self, window: Window, others: Iterable[Window], settings: Settings) -> Window:
        """Return the window with its settings changed. Raises Rejected where nothing would be left of it."""
        if window.other_use is not None:
            # What stands there belongs to something else, and nothing of it to the window that takes its place.
            window = taken_off(self.where, window).unused()
        if "active" in settings:
            return self.on(window, others) if settings["active"] else self.off(window)
        changed: dict[str, Any] = dict(settings)
        edited = replace(window, **changed)
        if settings.keys().isdisjoint(TIMES):
            return edited
        edited = replace(edited, readable=True)
        if window.start == window.end:
            return self.new(_beside(edited, others, open_end="start" in settings))
        if edited.start % DAY == edited.end % DAY and (edited.start, edited.end) != (0, DAY):
            values = {"what": self.what, "time": time_text(edited.start)}
            raise Rejected([Reason(key="nothing_left", values=values)])
        # An end at 00:00 is the midnight that follows the start.
        return replace(edited, end=edited.end or DAY)

    def off(self, window: Window) -> Window:
        """Return the window off the schedule."""
        return taken_off(self.where, window)

    def on(self, window: Window, others: Iterable[Window]) -> Window:
        """Return the window on the schedule: with its own times, else those that the inverter holds, else where there is room."""
        if window.start != window.end:
            return replace(window, active=True, days=None)
        if self.held.start != self.held.end and self.held.other_use is None:
            return replace(self.held, active=True, days=None)
        start, end = _room(others)
        if start == end:
            raise Rejected([Reason(key="day_is_full", values={"what": self.what})])
        return self.new(replace(window, start=start, end=end, readable=True))

    def new(self, window: Window) -> Window:
        """Return a window that is used from now on, with limits in place of those that are missing, 0, or out of range."""
        limits: dict[str, Any] = {}
        for name in LIMITS:
            limit, value = limit_of(self.where, name), getattr(window, name)
            if limit is None or (value and limit.minimum <= value <= limit.maximum):
                continue
            limits[name] = limit.nearest(self.at_first(name, limit))
        return replace(window, active=True, **limits)

    def at_first(self, name: str, limit: Limit) -> float:
        """Return what a limit is at first; the battery's own limit is looked at when the draft is applied."""
        if name == "stop_level" and self.place[0] is Side.DISCHARGE:
            return min(max(limit.minimum, LOWEST_LEVEL), limit.maximum)
        return limit.maximum


def _at(schedule: Schedule, place: Place) -> Window:
    return schedule.side(place[0])[place[1] - 1]


def _beside(window: Window, others: Iterable[Window], *, open_end: bool) -> Window:
    """Return a window with its other time: where the next of the others begins, or the one before it ends; else midnight."""
    edges = [other.start if open_end else other.end % DAY for other in others if other.busy]
    if open_end:
        return replace(window, end=min((edge for edge in edges if edge > window.start), default=DAY))
    end = window.end or DAY
    return replace(window, start=max((edge for edge in edges if edge < end), default=0), end=end)


def _room(others: Iterable[Window]) -> tuple[int, int]:
    """Return the beginning of the longest time that no other window covers, up to midnight; twice the same where there is none."""
    used = [other for other in others if other.busy]

    def room(start: int) -> int:
        if any(other.lasts(start) for other in used):
            return 0
        return min(((other.start - start) % DAY for other in used), default=DAY)

    start = max([other.end % DAY for other in used] or [0], key=room)
    return start, min(start + min(room(start), FIRST_MINUTES), DAY)


def window_from_dict(data: Mapping[str, Any]) -> Window:
    """Return the window that `asdict` has made into JSON data. Raises KeyError, TypeError or ValueError for anything else."""
    limits = {name: None if data[name] is None else float(data[name]) for name in LIMITS}
    return Window(
        start=int(data["start"]),
        end=int(data["end"]),
        active=bool(data["active"]),
        readable=bool(data["readable"]),
        days=None if data["days"] is None else tuple(map(int, data["days"])),
        other_use=None if data["other_use"] is None else str(data["other_use"]),
        **limits,
    )
