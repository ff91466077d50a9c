"""One change to the schedule, asked for through an entity: always a commit of the whole."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from .coordinator import ChargehandCoordinator
from .failures import committing
from .schedule.windows import DAY, Schedule, Side, Window


def with_times(window: Window, **settings: Any) -> Window:
    """A window with settings changed; one whose end meets its start is unused."""
    edited = replace(window, **settings)
    if edited.start % DAY == edited.end % DAY and (edited.start, edited.end) != (0, DAY):
        return edited.unused()
    # An end at 00:00 is the midnight that follows the start.
    return replace(edited, end=edited.end or DAY) if edited.start else edited


async def edit_window(
    coordinator: ChargehandCoordinator, side: Side, number: int, by: str, **settings: float | bool
) -> None:
    """Commit the schedule with one window changed. Raises the platform's errors."""

    def change(schedule: Schedule) -> Schedule:
        window = schedule.side(side)[number - 1]
        return schedule.with_window(side, number, with_times(window, **settings))

    await edit_schedule(coordinator, change, by)


async def set_armed(coordinator: ChargehandCoordinator, by: str, *, armed: bool) -> None:
    """Commit the schedule armed or not. Raises the platform's errors."""
    await edit_schedule(coordinator, lambda schedule: replace(schedule, armed=armed), by)


async def edit_schedule(coordinator: ChargehandCoordinator, change: Callable[[Schedule], Schedule], by: str) -> None:
    """Commit the schedule with one change. Raises the platform's errors."""
    with committing(coordinator, by):
        await coordinator.commits.edit(change, by)
