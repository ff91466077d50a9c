"""Windows and the schedule they make, in the house's time."""

from collections.abc import Iterator
from dataclasses import dataclass, field, fields, replace
from enum import StrEnum
from typing import Any

DAY = 24 * 60
"""Minutes of a day."""


class Side(StrEnum):
    """What a window lets the battery do."""

    CHARGE = "charge"
    DISCHARGE = "discharge"


@dataclass(frozen=True, kw_only=True, slots=True)
class Window:
    """A start and an end, in minutes of the day, with a limit.

    The end is the first minute no longer covered, 1…1440; an end before the start is on the next day. 0 to 0 is an unused window.
    `current` is in A and `power` in W, both at the battery's terminals; `stop_level` in %. None: this inverter has no such setting.
    """

    start: int = 0
    end: int = 0
    current: float | None = None
    power: float | None = None
    stop_level: float | None = None
    active: bool = True
    readable: bool = True
    """False: its registers hold no times. Start and end are 0 then, and say nothing."""

    days: tuple[int, ...] | None = None
    """The days of the week on which it starts, 0 = Monday, as somebody else has set them; None: every day, as Chargehand sets it."""

    other_use: str | None = None
    """What its place is used for instead, as the map names it. It is no window of this side then, and not active."""

    @property
    def used(self) -> bool:
        """Whether it ever covers a minute, as far as that can be read."""
        return self.active and self.start != self.end and self.days != ()

    @property
    def daily(self) -> bool:
        """Whether it acts, and every day."""
        return self.used and self.days is None

    @property
    def busy(self) -> bool:
        """Whether its place does something at its times, if only something else."""
        return self.used or (self.other_use is not None and self.start != self.end)

    @property
    def minutes(self) -> int:
        """How long it lasts; 0 when unused."""
        if not self.used:
            return 0
        return (self.end - self.start) % DAY or DAY

    def covers(self, minute: int) -> bool:
        """Whether a minute of the day lies in it."""
        return (minute - self.start) % DAY < self.minutes

    def overlaps(self, other: Window) -> bool:
        """Whether there is a minute that both cover."""
        if not (self.busy and other.busy):
            return False
        return self.lasts(other.start) or other.lasts(self.start)

    def lasts(self, minute: int) -> bool:
        """Whether a minute of the day lies in its times, which differ, whatever it does then."""
        return (minute - self.start) % DAY < ((self.end - self.start) % DAY or DAY)

    def unused(self) -> Window:
        """Return the same window without its time; limits stay, since writing them would only wear the registers."""
        return replace(self, start=0, end=0, readable=True, days=None, other_use=None)


@dataclass(frozen=True, kw_only=True, slots=True)
class Schedule:
    """What an inverter holds: each of its windows in its place, used or not, and whether they act.

    `armed` is None where the inverter has nothing to arm by, so that its windows always act, and where what arms them cannot be read.
    """

    charge: tuple[Window, ...] = ()
    discharge: tuple[Window, ...] = ()
    armed: bool | None = None
    shared: frozenset[tuple[Side, str]] = field(default=frozenset(), compare=False)
    """Limits that the inverter keeps once for all windows of a side: the windows of that side hold the same value."""

    @property
    def not_readable(self) -> tuple[tuple[Side, int], ...]:
        """Return the places, by side and number, whose registers hold no window."""
        return tuple((side, number) for side, number, window in self.places() if not window.readable)

    def side(self, side: Side) -> tuple[Window, ...]:
        """Return the windows of one side."""
        return self.charge if side is Side.CHARGE else self.discharge

    def places(self) -> Iterator[tuple[Side, int, Window]]:
        """All windows with their side and number, which counts from 1."""
        for side in Side:
            for number, window in enumerate(self.side(side), start=1):
                yield side, number, window

    def with_window(self, side: Side, number: int, window: Window) -> Schedule:
        """Return the same schedule with one window changed, and with it what all windows of its side share."""
        values = {name: getattr(window, name) for one, name in self.shared if one is side}
        common: dict[str, Any] = {name: value for name, value in values.items() if value is not None}
        windows = [replace(other, **common) for other in self.side(side)]
        windows[number - 1] = window
        if side is Side.CHARGE:
            return replace(self, charge=tuple(windows))
        return replace(self, discharge=tuple(windows))


@dataclass(frozen=True, kw_only=True, slots=True)
class Change:
    """One setting of a schedule that differs. `what` is the key of the entity that shows it."""

    what: str
    was: str | float | bool | None
    now: str | float | bool | None


def time_text(minute: int) -> str:
    """Return a minute of the day as people write it; 1440 is 24:00."""
    return f"{minute // 60:02d}:{minute % 60:02d}"


WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")


def days_text(days: tuple[int, ...] | None) -> str:
    """Return days of the week by their keys: `monday,friday`; `every_day`, or `no_day`."""
    if days is None:
        return "every_day"
    return ",".join(WEEKDAYS[day] for day in days) or "no_day"


def changes(was: Schedule, now: Schedule) -> tuple[Change, ...]:
    """Return what differs between two schedules of one inverter, window by window."""
    found: list[Change] = []
    if was.armed != now.armed:
        found.append(Change(what="armed", was=was.armed, now=now.armed))
    for (side, number, old), (_, _, new) in zip(was.places(), now.places(), strict=True):
        for setting in fields(Window):
            before, after = getattr(old, setting.name), getattr(new, setting.name)
            if setting.name in {"start", "end"}:
                before = time_text(before) if old.readable else None
                after = time_text(after) if new.readable else None
            if setting.name == "days":
                before, after = days_text(before), days_text(after)
            if before == after or setting.name == "readable":
                continue
            found.append(Change(what=f"{side}_window_{number}_{setting.name}", was=before, now=after))
    return tuple(found)
