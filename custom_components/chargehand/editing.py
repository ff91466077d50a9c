"""One change to the schedule, asked for through an entity: always a commit of the whole."""

from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import Any

from .coordinator import ChargehandCoordinator
from .failures import committing
from .schedule.windows import DAY, Schedule, Side, Window


def with_times(window: Window, **settings: Any) -> Window:
    """A window with settings changed; one whose end meets its start is unused."""
    edited = replace(window, readable=window.readable or not settings.keys().isdisjoint({"start", "end"}), **settings)
    if edited.start % DAY == edited.end % DAY and (edited.start, edited.end) != (0, DAY):
        return edited.unused()
    # An end at 00:00 is the midnight that follows the start.
    return replace(edited, end=edited.end or DAY) if edited.start else edited


def beside(window: Window, others: Iterable[Window], *, open_end: bool) -> Window:
    """A window that was unused and has got one of its times, up to the next of the others: to where one begins, or from where one ends."""
    edges = [other.start if open_end else other.end % DAY for other in others if other.used]
    if open_end:
        return replace(window, end=min((edge for edge in edges if edge > window.start), default=window.end))
    return replace(window, start=max((edge for edge in edges if edge < window.end), default=window.start))


async def edit_window(
    coordinator: ChargehandCoordinator, side: Side, number: int, by: str, **settings: float | bool
) -> None:
    """Commit the schedule with one window changed. Raises the platform's errors."""

    def change(schedule: Schedule) -> Schedule:
        window = schedule.side(side)[number - 1]
        edited = with_times(window, **settings)
        if window.start == window.end and edited.used:
            others = [other for place, at, other in schedule.places() if (place, at) != (side, number)]
            edited = beside(edited, others, open_end="start" in settings)
        return schedule.with_window(side, number, edited)

    await edit_schedule(coordinator, change, by)


async def set_armed(coordinator: ChargehandCoordinator, by: str, *, armed: bool) -> None:
    """Commit the schedule armed or not. Raises the platform's errors."""
    await edit_schedule(coordinator, lambda schedule: replace(schedule, armed=armed), by)


async def edit_schedule(coordinator: ChargehandCoordinator, change: Callable[[Schedule], Schedule], by: str) -> None:
    """Commit the schedule with one change. Raises the platform's errors."""
    with committing(coordinator, by):
        await coordinator.commits.edit(change, by)
