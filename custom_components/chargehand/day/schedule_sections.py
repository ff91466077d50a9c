"""Schedules: the one held, the draft, the one of another hand, and the one that Undo would put back."""

from typing import Any

from ..actions import reason_data, window_data
from ..changes import ScheduleStatus
from ..core.schedule import Schedule, Side, changes, reasons_against
from ..messages import changes_text, schedule_text, set_elsewhere_texts
from .day_facts import DayFacts
from .moments import moment


def held(facts: DayFacts) -> dict[str, Any] | None:
    """Return what the inverter holds."""
    return None if facts.held is None else _whole(facts.held)


def draft(facts: DayFacts) -> dict[str, Any] | None:
    """Return the draft, and what speaks against it."""
    kept, drafted = facts.known.drafts.kept, facts.drafted
    if kept is None or drafted is None:
        return None
    reasons = _against(facts, drafted)
    if not reasons and kept.why is not None:
        reasons = [{"text": kept.why}]
    return {
        **_sides(drafted),
        "by": kept.by,
        "since": kept.since.isoformat(),
        "applied_at": moment(kept.due),
        "reasons": reasons,
    }


def _against(facts: DayFacts, drafted: Schedule) -> list[dict[str, Any]]:
    points = facts.known.points
    if points is None or facts.held is None:
        return []
    return [reason_data(one) for one in reasons_against(points, facts.held, drafted, shift=facts.shift)]


def foreign(facts: DayFacts) -> dict[str, Any] | None:
    """Return the confirmed schedule beside the one that another hand has made of it; None while none has."""
    coordinator = facts.coordinator
    if coordinator is None or coordinator.monitor.state.status is not ScheduleStatus.CHANGED_ELSEWHERE:
        return None
    monitor = coordinator.monitor
    confirmed, found = monitor.storage.confirmed, monitor.elsewhere
    if confirmed is None or found is None:
        return None
    mine, theirs = coordinator.inverter.before_and_after(confirmed, found)
    return {
        "mine": _whole(mine),
        "theirs": _whole(theirs),
        "changes": [changes_text([one]) for one in changes(mine, theirs)],
        "since": moment(monitor.state.since),
    }


def undo(facts: DayFacts) -> dict[str, Any]:
    """Return whether there is a schedule to put back, and which."""
    storage, coordinator = facts.known.storage, facts.coordinator
    # Windows that the map has gained since the last change are as they were confirmed; putting back leaves them alone.
    kept = None if storage.previous is None else {**(storage.confirmed or {}), **storage.previous}
    previous = facts.schedule_of(kept, storage.previous_shift)
    if previous is None or previous == facts.held:
        return {"possible": False, "text": None}
    return {
        "possible": coordinator is not None and coordinator.allow_control,
        "text": schedule_text(previous),
    }


def _whole(schedule: Schedule) -> dict[str, Any]:
    unread = [{"side": str(side), "number": number} for side, number in schedule.not_readable]
    elsewhere = set_elsewhere_texts(schedule)
    return {
        **_sides(schedule),
        "armed": schedule.armed,
        **({"not_readable": unread} if unread else {}),
        **({"set_elsewhere": elsewhere} if elsewhere else {}),
    }


def _sides(schedule: Schedule) -> dict[str, Any]:
    """Return the used windows of both sides, each with its number."""
    return {
        str(side): [
            {"number": number, **window_data(window)}
            for number, window in enumerate(schedule.side(side), start=1)
            if window.used
        ]
        for side in Side
    }
