"""Where the schedule stands: its status, the order for it, and the plan."""

from typing import Any

from ..changes import CommitStage, ScheduleState, ScheduleStatus
from ..core.order import OrderState
from ..messages import order_status_text, schedule_status_text
from .day_facts import DayFacts
from .moments import moment


def status(facts: DayFacts) -> dict[str, Any]:
    """Return the schedule's status, since when, and both in words."""
    state, held = _state(facts), facts.held
    return {
        "state": str(state.status),
        "since": moment(state.since),
        "text": schedule_status_text(str(state.status), state.since, state.by, state.what),
        "armed": None if held is None else held.armed,
    }


def _state(facts: DayFacts) -> ScheduleState:
    """Return what is known of the schedule; of an inverter that does not run, what is kept."""
    if facts.coordinator is not None:
        return facts.coordinator.monitor.shown
    storage = facts.known.storage
    never = storage.confirmed is None and storage.unfinished is None
    return ScheduleState(status=ScheduleStatus.NEVER_CONFIRMED if never else ScheduleStatus.UNCONFIRMED)


def order(facts: DayFacts) -> dict[str, Any] | None:
    """Return the last order, unless it was for a time before the band."""
    state, last = facts.known.orders.state, facts.known.orders.order
    if last is None or state is OrderState.NONE or last.until < facts.band.start:
        return None
    return {"state": str(state), "until": moment(last.until), "text": order_status_text(state, last)}


def commit(facts: DayFacts) -> dict[str, Any] | None:
    """Return the stage of the commit that is at work, or how the last one ended."""
    coordinator = facts.coordinator
    return None if coordinator is None else stage_data(coordinator.monitor.commit_stages.now)


def stage_data(stage: CommitStage | None) -> dict[str, Any] | None:
    """Return a stage of a commit as JSON data."""
    if stage is None:
        return None
    return {
        "stage": str(stage.stage),
        "since": stage.since.isoformat(),
        "seconds": stage.seconds,
        "text": stage.text,
    }


def plan(facts: DayFacts) -> dict[str, Any] | None:
    """Return the last plan, as long as it is for a time to come."""
    nights = facts.known.nights
    last = nights.plan(facts.now)
    if last is None:
        return None
    return {
        "made": moment(nights.plan_made),
        "reason": last["why"],
        "cost": last.get("expected_cost"),
        "saving": last["saving"],
        "target_level": last["target_level"],
        "charges": bool(last["windows"]),
    }
