"""A schedule as registers: what it is on one inverter, and back.

Times in registers are on the inverter's clock; `shift` is how many minutes that clock is ahead of the house's.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from ..registers import EVERY_DAY, Address, Point, SchedulePoints, TimePoint, WindowPoints
from .list_of_times import as_listed, read_list, write_list
from .slot_image import LIMITS, limit_of, read_slot, shared_limits, write_slot
from .windows import DAY, Schedule, Side, Window

type Image = Mapping[Address, int]
"""The raw register values of a schedule, with the powers of ten that scale it: those are no bits of it (`Masks`)."""

type Masks = Mapping[Address, int]
"""The bits of a register that are the schedule's, for registers that it shares with something else; none of a power of ten's."""


def masks_of(points: SchedulePoints) -> Masks:
    """Return the registers that the schedule shares, with its own bits."""
    return bits_of(points.parts)


def bits_of(parts: Iterable[Point | TimePoint]) -> Masks:
    """Return the registers of which these points take only some bits, with those bits, and those that they only need: none."""
    masks: dict[Address, int] = {}
    needed, whole = set[Address](), set[Address]()
    for part in parts:
        needed.update(address for group in part.groups for address in group)
        if isinstance(part, TimePoint) or part.bits is None:
            whole.update(part.addresses)
            continue
        low, high = part.bits
        address = (part.table, part.first)
        masks[address] = masks.get(address, 0) | ((1 << (high - low + 1)) - 1) << low
    return dict.fromkeys(needed - whole, 0) | masks


def upon(target: Image, seen: Image, masks: Masks) -> Image:
    """Return the target with the bits that are not the schedule's as they were seen: nobody else's bit is put back."""
    if not masks:
        return target
    kept = {
        address: (target[address] & mask) | (seen[address] & ~mask & 0xFFFF)
        for address, mask in masks.items()
        if address in target and address in seen
    }
    return {**target, **kept}


def holds(seen: Image | None, target: Image, masks: Masks) -> bool:
    """Whether what was seen is the target, but for bits that are not the schedule's."""
    return seen is not None and seen == upon(target, seen, masks)


def points_of(points: SchedulePoints, side: Side) -> tuple[WindowPoints, ...]:
    """Where the windows of one side are."""
    return points.charge if side is Side.CHARGE else points.discharge


def read_schedule(points: SchedulePoints, image: Image, shift: int = 0) -> Schedule:
    """Return what an image says. A window whose registers hold no times is not readable; the others are what they are."""
    charge = (
        _read_list(points, image, shift) if points.list_of_times else _read_side(points, points.charge, image, shift)
    )
    return Schedule(
        charge=charge,
        discharge=_read_side(points, points.discharge, image, shift),
        armed=read_armed(points, image),
        shared=frozenset((side, name) for side in Side for name in shared_limits(points_of(points, side))),
    )


def known_schedule(points: SchedulePoints, image: Image, shift: int = 0) -> Schedule | None:
    """Return what an image says that was kept; None where the map has gained windows since, of which it says nothing."""
    known = all(address in image for group in points.groups for address in group)
    return read_schedule(points, image, shift) if known else None


def write_schedule(points: SchedulePoints, schedule: Schedule, image: Image, shift: int = 0) -> Image:
    """Return the image of a schedule, made from one just read: only what the schedule says is changed in it.

    Raises NoRoom as `check_room` does, and ValueError when a value cannot be written down; the check comes first, so either is a fault of
    the program.
    """
    new = dict(image)
    if points.list_of_times:
        new |= _written_list(points, schedule.charge, image, shift)
    for side in () if points.list_of_times else Side:
        places = points_of(points, side)
        for where, slot in zip(places, _slots(points, side, schedule.side(side), image, shift), strict=True):
            new |= write_slot(points, where, slot, new)
    if points.armed_by is not None and schedule.armed is not None and read_armed(points, image) != schedule.armed:
        value = points.armed_by.value
        new |= points.armed_by.control.encode(value if schedule.armed else not value, new)
    return new


def as_held(points: SchedulePoints, held: Schedule, new: Schedule, shift: int = 0) -> Schedule:
    """Return a schedule that is to follow the one held as it will be read back, which may be in other places than it was asked for.

    Days that all windows have in common are every day once one of them is written. A list of times keeps its windows by their start, and
    joins those that are one.
    """
    sides = {side: new.side(side) for side in Side}
    if sides == {side: held.side(side) for side in Side}:
        return new
    if points.list_of_times:
        days = {window.days for window in sides[Side.CHARGE] if window.used}
        listed = as_listed((moved(window, shift) for window in sides[Side.CHARGE]), len(points.list_of_times))
        kept = days.pop() if len(days) == 1 else None
        sides[Side.CHARGE] = tuple(
            replace(moved(window, -shift), days=kept if window.used else None) for window in listed
        )
    if points.days is not None and any(window.daily for windows in sides.values() for window in windows):
        sides = {side: tuple(replace(window, days=None) for window in windows) for side, windows in sides.items()}
    return replace(new, charge=sides[Side.CHARGE], discharge=sides[Side.DISCHARGE])


class NoRoom(Exception):
    """A window over midnight needs another place for its morning, and there is none that can take it."""

    def __init__(self, place: int) -> None:
        """Keep the place of the window, from 0."""
        super().__init__(f"no room for the morning of window {place + 1}")
        self.place = place


def check_room(points: SchedulePoints, side: Side, windows: Sequence[Window], image: Image, shift: int = 0) -> None:
    """Raise NoRoom unless the inverter's places, which hold `image`, can take these windows."""
    _slots(points, side, windows, image, shift)


def moved(window: Window, minutes: int) -> Window:
    """Return the same window on a clock that is so many minutes ahead."""
    if window.start == window.end or (window.start, window.end) == (0, DAY):
        return window
    return replace(window, start=(window.start + minutes) % DAY, end=(window.end + minutes) % DAY or DAY)


def _read_list(points: SchedulePoints, image: Image, shift: int) -> tuple[Window, ...]:
    days = None if points.days is None else points.days.decode(image)
    found = (moved(window, -shift) for window in read_list(points.list_of_times, image))
    if days is None or days == EVERY_DAY:
        return tuple(found)
    return tuple(replace(window, days=days) if window.used else window for window in found)


def _written_list(points: SchedulePoints, windows: Sequence[Window], image: Image, shift: int) -> dict[Address, int]:
    slots = [moved(window, shift) for window in windows]
    new = write_list(points.list_of_times, slots, image, points.step_minutes)
    if points.days is not None and any(slot.daily for slot in slots) and points.days.decode(image) != EVERY_DAY:
        new |= points.days.every_day({**image, **new})
    return new


def _read_side(points: SchedulePoints, places: Sequence[WindowPoints], image: Image, shift: int) -> tuple[Window, ...]:
    slots = [read_slot(points, where, image) for where in places]
    if not points.crosses_midnight:
        slots = _joined(slots)
    return tuple(moved(slot, -shift) for slot in slots)


def _splits(points: SchedulePoints, slot: Window) -> bool:
    return not points.crosses_midnight and slot.end < slot.start


def _joined(slots: list[Window]) -> list[Window]:
    """Two windows that meet at midnight with equal limits are one window over midnight, shown in the evening's place."""
    joined = list(slots)
    for evening, slot in enumerate(slots):
        if not (slot.used and slot.end == DAY and slot.start != 0 and joined[evening] is slot):
            continue
        for morning, other in enumerate(slots):
            continues = other.used and other.start == 0 and other.end != DAY and joined[morning] is other
            # A night of some days would need the evenings' days and those after them; it stays two windows.
            daily = slot.daily and other.daily
            if (
                daily
                and continues
                and replace(other, start=slot.start, end=slot.end) == slot
                and other.end <= slot.start
            ):
                joined[evening] = replace(slot, end=other.end)
                joined[morning] = other.unused()
                break
    return joined


def _slots(points: SchedulePoints, side: Side, windows: Sequence[Window], image: Image, shift: int) -> list[Window]:
    """Return the inverter's own windows for these: each in its place, the morning of a split one in a free place that can take it.

    Raises NoRoom.
    """
    places = points_of(points, side)
    slots = [moved(window, shift) for window in windows]
    for place, slot in enumerate(list(slots)):
        if not (slot.used and _splits(points, slot)):
            continue
        morning = replace(slot, start=0)
        free = [
            other
            for other, window in enumerate(slots)
            if not window.used
            # What somebody else has put there, or what cannot be read, is overwritten only on request.
            and window.other_use is None
            and window.readable
            and _takes(points, places[other], morning, image)
        ]
        if not free:
            raise NoRoom(place)
        # Where that half stands already, nothing has to be written.
        there = [other for other in free if _times(points, places[other], image) == (0, slot.end)]
        slots[(there or free)[0]] = morning
        slots[place] = replace(slot, end=DAY)
    return slots


def _takes(points: SchedulePoints, where: WindowPoints, slot: Window, image: Image) -> bool:
    """Whether a place can hold a window as it is: with each of its limits, within that place's own bounds and on its steps."""
    for name in LIMITS:
        limit, value = limit_of(where, name), getattr(slot, name)
        if limit is not None and value is not None and not limit.minimum <= value <= limit.maximum:
            return False
    try:
        written = write_slot(points, where, slot, image)
    except ValueError:
        return False
    return read_slot(points, where, {**image, **written}) == slot


def _times(points: SchedulePoints, where: WindowPoints, image: Image) -> tuple[int, int] | None:
    held = read_slot(points, where, image)
    return (held.start, held.end) if held.readable else None


def read_armed(points: SchedulePoints, image: Image) -> bool | None:
    """Return whether what arms the windows has its value; None where nothing does, or where it is neither on nor off."""
    if points.armed_by is None:
        return None
    control = points.armed_by.control
    held = control.decode(image)
    return None if held is None and control.point.on_off is not None else held == points.armed_by.value


def can_disarm(points: SchedulePoints) -> bool:
    """Whether there is a value that disarms: for a switch, the other one. A mode has several others, and none is ours to pick."""
    return points.armed_by is not None and isinstance(points.armed_by.value, bool)
