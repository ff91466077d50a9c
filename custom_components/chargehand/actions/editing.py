"""One change to the schedule, asked for through an entity: always a commit of the whole."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from typing import Any

from ..coordinator import ChargehandCoordinator
from ..core.schedule import DAY, Reason, Rejected, Schedule, Side, Window, time_text
from .failures import committing

TIMES = frozenset({"start", "end"})


def with_settings(window: Window, others: Iterable[Window], what: str, settings: Mapping[str, Any]) -> Window:
    """Return a window with settings changed; `what` is its key, `others` are all other windows.

    One that was unused and gets one of its times goes up to the next of the others. Raises Rejected where nothing would be left of it.
    """
    if settings.keys().isdisjoint(TIMES):
        return replace(window, **settings)
    edited = replace(window, readable=True, **settings)
    if window.start == window.end:
        return _beside(edited, others, open_end="start" in settings)
    if edited.start % DAY == edited.end % DAY and (edited.start, edited.end) != (0, DAY):
        raise Rejected([Reason(key="nothing_left", values={"what": what, "time": time_text(edited.start)})])
    # An end at 00:00 is the midnight that follows the start.
    return replace(edited, end=edited.end or DAY)


def _beside(window: Window, others: Iterable[Window], *, open_end: bool) -> Window:
    """Return a window with its other time: where the next of the others begins, or the one before it ends; else midnight."""
    edges = [other.start if open_end else other.end % DAY for other in others if other.used]
    if open_end:
        return replace(window, end=min((edge for edge in edges if edge > window.start), default=DAY))
    end = window.end or DAY
    return replace(window, start=max((edge for edge in edges if edge < end), default=0), end=end)


async def edit_window(
    coordinator: ChargehandCoordinator, side: Side, number: int, by: str, **settings: float | bool
) -> None:
    """Commit the schedule with one window changed. Raises the platform's errors."""

    def change(schedule: Schedule) -> Schedule:
        window = schedule.side(side)[number - 1]
        others = [other for place, at, other in schedule.places() if (place, at) != (side, number)]
        edited = with_settings(window, others, f"{side}_window_{number}", settings)
        return schedule.with_window(side, number, edited)

    await edit_schedule(coordinator, change, by)


async def set_armed(coordinator: ChargehandCoordinator, by: str, *, armed: bool) -> None:
    """Commit the schedule armed or not. Raises the platform's errors."""
    await edit_schedule(coordinator, lambda schedule: replace(schedule, armed=armed), by)


async def edit_schedule(coordinator: ChargehandCoordinator, change: Callable[[Schedule], Schedule], by: str) -> None:
    """Commit the schedule with one change. Raises the platform's errors."""
    with committing(coordinator, by):
        await coordinator.commits.edit(change, by)
