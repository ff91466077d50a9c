"""What an inverter may act on by an image, as far as its register map says."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from ..registers import Address, Mode, Point, SchedulePoints, TimePoint, Weekdays, WindowPoints
from .image import Image, read_armed

type WindowState = tuple[int, ...] | None
"""All that a window's registers say of it while it may act; None while it certainly does not."""


@dataclass(frozen=True, slots=True)
class Rest:
    """Something that keeps a window from acting: the registers that say so, and whether they do."""

    addresses: frozenset[Address]
    holds: Callable[[Image], bool]


@dataclass(frozen=True, slots=True)
class ActingWindow:
    """One of the inverter's windows, with all that decides whether it acts.

    It does not act while nothing arms it, while its own bit or mode is off, on no day of the week, while its times are those of an unused window, or at a limit of 0
    where the map lets the limit be 0. Unused is what the map marks so, else 00:00 to 00:00. Start equal to end at any other time of day
    is taken for a window: some inverters read a whole day in it (common practice, no source).
    """

    where: WindowPoints | None
    """Where the window is kept; None for a whole list of times, which acts as one."""

    rests: tuple[Rest, ...]
    parts: tuple[tuple[Address, int], ...]
    """Its registers, each with the bits of it that are this window's."""

    concerned: frozenset[Address]
    """All registers that its state depends on."""

    blanks: tuple[dict[Address, int], ...]
    """The registers of its times by which it is unused, as `WindowPoints.blanks`."""

    def says(self, image: Image) -> tuple[int, ...]:
        """All that its registers say of it."""
        return tuple([image[address] & bits for address, bits in self.parts])

    def state(self, image: Image) -> WindowState:
        """Return what it may act on by an image."""
        for rest in self.rests:
            if rest.holds(image):
                return None
        return self.says(image)


def is_armed(points: SchedulePoints, image: Image) -> bool:
    """Whether windows may act at all: unless what arms them certainly has another value."""
    return read_armed(points, image) is not False


def acting_windows(points: SchedulePoints) -> tuple[ActingWindow, ...]:
    """Return all windows, charging ones first; a list of times is one."""
    if points.list_of_times:
        return (_list(points),)
    return tuple(_acting(points, where) for where in (*points.charge, *points.discharge))


def _acting(points: SchedulePoints, where: WindowPoints) -> ActingWindow:
    rests = tuple(_rests(points, where))
    parts = [(address, 0xFFFF) for time in where.times for address in time.addresses]
    limits = [limit.point for limit in (where.current, where.power, where.stop_level) if limit is not None]
    for point in (*limits, *where.conditions):
        parts += [(address, own_bits(point)) for address in point.addresses]
    concerned = {address for address, _ in parts}.union(*(rest.addresses for rest in rests))
    return ActingWindow(where, rests, tuple(parts), frozenset(concerned), where.blanks)


def _list(points: SchedulePoints) -> ActingWindow:
    """Return a list of times as one window: each of its points says when another one's part ends."""
    owned: dict[Address, int] = {}
    for part in (part for point in points.list_of_times for part in point.parts):
        bits = 0xFFFF if isinstance(part, TimePoint) else own_bits(part)
        owned |= {address: owned.get(address, 0) | bits for address in part.addresses}
    rests = [*_arming(points)]
    if (days := points.days) is not None:
        address = days.point.addresses[0]
        owned[address] = owned.get(address, 0) | own_bits(days.point)
        rests.append(_no_day(days))
    concerned = set(owned).union(*(rest.addresses for rest in rests))
    return ActingWindow(None, tuple(rests), tuple(owned.items()), frozenset(concerned), ())


def _arming(points: SchedulePoints) -> Iterator[Rest]:
    if points.armed_by is not None:
        arming = points.armed_by.control.point.addresses
        yield Rest(frozenset(arming), lambda image: not is_armed(points, image))


def _no_day(days: Weekdays) -> Rest:
    return Rest(frozenset(days.point.addresses), lambda image: not days.decode(image))


def _rests(points: SchedulePoints, where: WindowPoints) -> Iterator[Rest]:
    yield from _arming(points)
    if (active := where.active) is not None:
        yield Rest(frozenset(active.addresses), lambda image: active.decode(image) is False)
    if where.days is not None:
        yield _no_day(where.days)
    for blank in where.blanks:
        yield Rest(frozenset(blank), _holds(blank))
    for time in where.times:
        if time.unused:
            yield Rest(frozenset(time.addresses), time.says_unused)
    for limit in (where.current, where.power):
        if limit is not None and limit.can_be_zero:
            yield _zero(limit.point, active if isinstance(active, Mode) else None)


def _holds(registers: dict[Address, int]) -> Callable[[Image], bool]:
    held = tuple(registers.items())
    return lambda image: all(image[address] == value for address, value in held)


def _zero(point: Point, mode: Mode | None) -> Rest:
    """Return a limit of 0 as what keeps a window from acting. What a place does in another mode need not heed it."""
    if mode is None:
        return Rest(frozenset(point.addresses), lambda image: point.decode(image) == 0)
    addresses = frozenset((*point.addresses, *mode.addresses))
    return Rest(addresses, lambda image: point.decode(image) == 0 and mode.other_use(image) is None)


def own_bits(point: Point) -> int:
    """Return the bits of a point's registers that are its own."""
    if point.bits is None:
        return 0xFFFF
    low, high = point.bits
    return ((1 << (high - low + 1)) - 1) << low
