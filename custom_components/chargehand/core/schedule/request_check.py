"""A request, or an edit, checked against what this inverter can hold. Nothing is sent before all of it has passed."""

from dataclasses import dataclass, replace

from ..reasons import Reason
from ..registers import SchedulePoints
from .image import Image, as_held, can_disarm, read_schedule
from .number_input import NullType
from .request import Adjustment, Rejected, ScheduleRequest
from .request_reader import RequestReader
from .windows import Schedule, Side, Window, time_text


@dataclass(frozen=True, kw_only=True, slots=True)
class Checked:
    """A request that passed: the schedule to take the inverter to, and what was adjusted on the way."""

    schedule: Schedule
    adjusted: tuple[Adjustment, ...]


def check(
    points: SchedulePoints, image: Image, request: ScheduleRequest, *, shift: int = 0, voltage: float | None = None
) -> Checked:
    """Turn a request into the schedule that the inverter, which holds `image`, is to have.

    `shift`: minutes the inverter's clock is ahead of the house's. `voltage`: the battery's, for limits in the other unit.
    Raises Rejected with every reason found.
    """
    reader = RequestReader(points, shift, voltage)
    held = read_schedule(points, image, shift)
    new = _requested(reader, points, held, request)
    reader.room(new, image)
    reader.reasons += overlaps(new, held)
    if reader.reasons:
        raise Rejected(reader.reasons)
    return Checked(schedule=as_held(points, held, new, shift), adjusted=tuple(reader.adjusted))


def check_thought(
    points: SchedulePoints, held: Schedule, request: ScheduleRequest, *, shift: int = 0, voltage: float | None = None
) -> Checked:
    """Return the schedule of a request that nobody wants to apply yet, by what the inverter was last seen to hold.

    As `check`, but for what only its registers say. Raises Rejected with every reason found.
    """
    reader = RequestReader(points, shift, voltage)
    new = _requested(reader, points, held, request)
    reader.points_of_list(new)
    reader.reasons += overlaps(new, held)
    if reader.reasons:
        raise Rejected(reader.reasons)
    return Checked(schedule=as_held(points, held, new, shift), adjusted=tuple(reader.adjusted))


def check_windows(
    points: SchedulePoints, held: Schedule, request: ScheduleRequest, *, shift: int = 0, voltage: float | None = None
) -> Checked:
    """Return the schedule of a request, whatever its windows do to each other. Raises Rejected with every reason found."""
    reader = RequestReader(points, shift, voltage)
    new = _requested(reader, points, held, request)
    if reader.reasons:
        raise Rejected(reader.reasons)
    return Checked(schedule=new, adjusted=tuple(reader.adjusted))


def _requested(reader: RequestReader, points: SchedulePoints, held: Schedule, request: ScheduleRequest) -> Schedule:
    """Return the schedule that a request makes of the one held; the reader keeps what speaks against it."""
    windows = dict[Side, tuple[Window, ...]]()
    for side in Side:
        wanted = request.side(side)
        windows[side] = held.side(side)
        if isinstance(wanted, NullType):
            reader.fault("side_empty", field=side)
        elif wanted is not None:
            windows[side] = reader.windows(side, wanted, held.side(side))
    armed = request.armed if points.armed_by is not None else None
    if not request.armed and held.armed is not False and not can_disarm(points):
        reader.fault("cannot_disarm")
    return replace(held, charge=windows[Side.CHARGE], discharge=windows[Side.DISCHARGE], armed=armed)


def check_window(
    points: SchedulePoints, side: Side, number: int, old: Window, new: Window, *, shift: int = 0
) -> Window:
    """Return what becomes of one window by an edit, whatever stands beside it. Raises Rejected with every reason found."""
    reader = RequestReader(points, shift, None)
    window = reader.edited(side, number, old, new)
    if reader.reasons:
        raise Rejected(reader.reasons)
    return window


def check_edit(points: SchedulePoints, image: Image, edited: Schedule, *, shift: int = 0) -> Schedule:
    """Return what becomes of a schedule that differs from what `image` says by edits. Raises Rejected with every reason found."""
    reader, held = RequestReader(points, shift, None), read_schedule(points, image, shift)
    if edited.armed is False and held.armed and not can_disarm(points):
        reader.fault("cannot_disarm")
    checked = _edited(reader, held, edited)
    reader.room(checked, image)
    reader.reasons += overlaps(checked, held)
    if reader.reasons:
        raise Rejected(reader.reasons)
    return as_held(points, held, checked, shift)


def reasons_against(points: SchedulePoints, held: Schedule, edited: Schedule, *, shift: int = 0) -> tuple[Reason, ...]:
    """Return every reason why a schedule that differs by edits from the one last seen cannot be, but for what only the registers say."""
    reader = RequestReader(points, shift, None)
    checked = _edited(reader, held, edited)
    reader.points_of_list(checked)
    return (*reader.reasons, *overlaps(checked, held))


def _edited(reader: RequestReader, held: Schedule, edited: Schedule) -> Schedule:
    """Return the edited schedule as the inverter can hold it; the reader keeps what speaks against it."""
    checked = edited
    for (side, number, old), (_, _, new) in zip(held.places(), edited.places(), strict=True):
        if old != new:
            checked = checked.with_window(side, number, reader.edited(side, number, old, new))
    return checked


def overlaps(new: Schedule, held: Schedule) -> list[Reason]:
    """Return why two windows overlap of which at least one is new. Those that overlapped before are not this request's."""
    before = {(side, number): window for side, number, window in held.places()}
    places = list(new.places())
    found: list[Reason] = []
    for index, (side, number, window) in enumerate(places):
        for other_side, other_number, other in places[index + 1 :]:
            untouched = before[side, number] == window and before[other_side, other_number] == other
            if not untouched and window.overlaps(other):
                kept = before[side, number] == window
                use = window.other_use or other.other_use
                about = (other_side, other_number) if kept else (side, number)
                found.append(
                    Reason(
                        key="overlap" if use is None else "overlap_other_use",
                        # The one of the two that this request has changed.
                        about=f"{about[0]}_window_{about[1]}",
                        values={
                            "first": f"{side}_window_{number}",
                            "first_times": f"{time_text(window.start)}–{time_text(window.end)}",
                            "second": f"{other_side}_window_{other_number}",
                            "second_times": f"{time_text(other.start)}–{time_text(other.end)}",
                            **({} if use is None else {"use": use}),
                        },
                    )
                )
    return found
