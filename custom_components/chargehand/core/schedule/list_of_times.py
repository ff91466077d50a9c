"""A list of times as charge windows, and charge windows as a list of times: each undoes the other.

A list has a fixed number of points. What a point says holds until the next point's time, and what the last one says until the first
one's, over midnight. Parts of the day that charge are windows. Those that follow each other with the same limits are one.
"""

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from ..registers import Address, Limit, ListPoint, Raw
from .slot_image import LIMITS
from .windows import DAY, Window

type Limits = tuple[float | None, float | None, float | None]
"""Current in A, power in W and stop level in %; None: there is no such setting, or its register holds no value."""


class ListFull(Exception):
    """Charge windows need more points than the list has."""

    def __init__(self, needed: int, possible: int) -> None:
        """Keep how many points they need, and how many there are."""
        super().__init__(f"{needed} points needed, {possible} there")
        self.needed = needed
        self.possible = possible


@dataclass(frozen=True, slots=True)
class _Setting:
    """What holds in a part of the day."""

    charging: bool | None
    """None where the map does not say what the register holds."""

    limits: Limits


def read_list(points: Sequence[ListPoint], image: Raw) -> tuple[Window, ...]:
    """Return the charge windows that a list comes to, one for each of its points, by their start; those left over are unused.

    None of them is readable where something is charged, and the times say not when; nor where it is not known of a part whether it charges.
    """
    held = [_setting(point, image) for point in points]
    if all(one.charging is False for one in held):
        return _filled((), len(points))
    times = [point.start.decode(image) for point in points]
    known = [time for time in times if time is not None]
    if (
        any(one.charging is None for one in held)
        or known != times
        or any(one >= other for one, other in itertools.pairwise(known))
        or known[-1] >= DAY
    ):
        return tuple(Window(readable=False) for _ in points)
    ends = (*known[1:], known[0])
    parts = [_window(start, end, one.limits) for start, end, one in zip(known, ends, held, strict=True) if one.charging]
    return as_listed(parts, len(points))


def write_list(points: Sequence[ListPoint], windows: Sequence[Window], image: Raw, step: int) -> dict[Address, int]:
    """Return the registers of a list that has these charge windows, where they differ from those of `image`.

    What lies between them keeps the limits of the first part that does not charge now. Points to spare are put where nothing changes,
    on steps of so many minutes. Raises ListFull.
    """
    held = read_list(points, image)
    wanted = as_listed(windows, len(points))
    if held in (wanted, tuple(windows)):
        return {}
    between = _Setting(False, _between(points, image))
    begins = _begins([window for window in wanted if window.used], between)
    if len(begins) > len(points):
        raise ListFull(len(begins), len(points))

    def at(time: int) -> _Setting:
        """Return what holds from a time on: what began last, yesterday if need be."""
        last = max((begin for begin in begins if begin <= time), default=max(begins, default=None))
        if last is not None:
            return begins[last]
        return _Setting(True, _limits(wanted[0])) if wanted[0].used else between

    times = set(begins)
    there = [time for point in points if (time := point.start.decode(image)) is not None and time < DAY]
    # Those that are there already wear no register; parts that charge are cut only where there is no other place.
    for time in (*sorted(there, key=lambda time: bool(at(time).charging)), *range(DAY - step, -1, -step)):
        if len(times) < len(points) and time % step == 0:
            times.add(time)
    new: dict[Address, int] = {}
    for point, time in zip(points, sorted(times), strict=True):
        new |= _written(point, time, at(time), image)
    return new


def points_needed(windows: Iterable[Window]) -> int:
    """Return how many points a list must have for these charge windows."""
    return len(_begins(_joined([window for window in windows if window.used]), _Setting(False, (None, None, None))))


def as_listed(windows: Iterable[Window], count: int) -> tuple[Window, ...]:
    """Return charge windows as a list of so many points shows them: by their start, joined where they are one, the rest unused."""
    return _filled(_joined([window for window in windows if window.used]), count)


def _filled(windows: Sequence[Window], count: int) -> tuple[Window, ...]:
    return (*windows, *(Window() for _ in range(count - len(windows))))


def _joined(windows: Iterable[Window]) -> list[Window]:
    """Return windows by their start; those that meet and have the same limits are one, also at midnight."""
    joined: list[Window] = []
    for window in sorted(windows, key=lambda window: window.start):
        last = joined[-1] if joined else None
        if last is not None and last.end % DAY == window.start and _limits(last) == _limits(window):
            joined[-1] = _window(last.start, window.end % DAY, _limits(window))
        else:
            joined.append(_window(window.start, window.end % DAY, _limits(window)))
    if len(joined) > 1:
        first, last = joined[0], joined[-1]
        if last.end % DAY == first.start and _limits(last) == _limits(first):
            joined = [*joined[1:-1], _window(last.start, first.end % DAY, _limits(last))]
    return joined


def _begins(windows: Sequence[Window], between: _Setting) -> dict[int, _Setting]:
    """Return when something else begins, and what. A window of the whole day has no beginning."""
    if len(windows) == 1 and windows[0].minutes == DAY:
        return {}
    ends = {window.end % DAY: between for window in windows}
    return ends | {window.start: _Setting(True, _limits(window)) for window in windows}


def _window(start: int, end: int, limits: Limits) -> Window:
    """Return a window; one that ends where it starts lasts the whole day."""
    current, power, stop_level = limits
    times = (0, DAY) if start == end else (start, end or DAY)
    return Window(start=times[0], end=times[1], current=current, power=power, stop_level=stop_level)


def _limits(window: Window) -> Limits:
    return window.current, window.power, window.stop_level


def _setting(point: ListPoint, image: Raw) -> _Setting:
    current, power, stop_level = (_held(point, name, image) for name in LIMITS)
    charging = point.charging.decode(image)
    return _Setting(None if charging is None else bool(charging), (current, power, stop_level))


def _held(point: ListPoint, name: str, image: Raw) -> float | None:
    limit: Limit | None = getattr(point, name)
    value = None if limit is None else limit.point.decode(image)
    return float(value) if isinstance(value, int | float) else None


def _between(points: Sequence[ListPoint], image: Raw) -> Limits:
    """Return the limits of the first part that does not charge; without one, or where the map does not allow them, those that limit least."""
    first = points[0]
    widest: Limits = (
        None if first.current is None else first.current.maximum,
        first.power.maximum if first.power is not None and first.power.is_known else None,
        None if first.stop_level is None else first.stop_level.minimum,
    )
    rests = (one.limits for one in (_setting(point, image) for point in points) if one.charging is False)
    current, power, stop_level = (
        held if held is None or _allows(getattr(first, name), held) else least
        for name, held, least in zip(LIMITS, next(rests, widest), widest, strict=True)
    )
    return current, power, stop_level


def _allows(limit: Limit | None, value: float) -> bool:
    # What bounds that are not known allow is not known either; such a value is there already.
    return limit is None or not limit.is_known or limit.minimum <= value <= limit.maximum


def _written(point: ListPoint, time: int, setting: _Setting, image: Raw) -> dict[Address, int]:
    """Return the registers of a point that are not so already."""
    new: dict[Address, int] = {}
    if point.start.decode(image) != time:
        new |= point.start.encode(time)
    if point.charging.decode(image) is not setting.charging:
        new |= point.charging.encode(setting.charging is True, image)
    for name, value in zip(LIMITS, setting.limits, strict=True):
        limit: Limit | None = getattr(point, name)
        if limit is not None and value is not None and _held(point, name, image) != value:
            new |= limit.point.encode(value, image)
    return new
