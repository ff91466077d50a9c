"""When an inverter's charge windows act in real time, and keeping what begins and ends."""

from datetime import datetime, timedelta

from homeassistant.core import callback
from homeassistant.util import dt as dt_util

from .coordinator import ChargehandCoordinator
from .past_windows import LEVEL_HOLDS
from .registers import Keeps
from .schedule.clock import inverter_time
from .schedule.days import Acting, acting_times
from .schedule.windows import DAY
from .snapshot import CLOCK, SCHEDULE
from .standing import ScheduleStatus

LEVEL = "battery_level"

FOLLOWED = frozenset({SCHEDULE, CLOCK, LEVEL})
"""What has to be read for it, as far as the map has it."""


def level_now(coordinator: ChargehandCoordinator) -> float | None:
    """The battery's level (%) as read last."""
    level = coordinator.data.values.get(LEVEL)
    return float(level) if isinstance(level, int | float) and not isinstance(level, bool) else None


def clock_ahead(coordinator: ChargehandCoordinator) -> timedelta:
    """How far the inverter's clock is wrong, in whole minutes and as far as its time of day goes."""
    minutes = round((coordinator.data.clock_offset or 0.0) / 60)
    return timedelta(minutes=(minutes + DAY // 2) % DAY - DAY // 2)


def acting(coordinator: ChargehandCoordinator, first: datetime, last: datetime) -> list[Acting]:
    """Every time that a charge window of the schedule read last acts between two aware moments."""
    schedule, inverter = coordinator.data.schedule, coordinator.inverter
    if schedule is None:
        return []
    ahead = clock_ahead(coordinator)
    keeps = Keeps.LOCAL if inverter.map.clock is None else inverter.map.clock.keeps
    return acting_times(
        schedule, lambda at: inverter_time(keeps, at, inverter.zone) + ahead, inverter.shift(), first, last
    )


@callback
def follow_windows(coordinator: ChargehandCoordinator) -> None:
    """Keep what begins and ends, as far as the inverter was seen, and what must have acted while it was not."""
    data, past = coordinator.data, coordinator.past
    if not coordinator.last_update_success or data.schedule is None or data.read_at is None:
        return
    now, looked = dt_util.utcnow(), past.looked
    confirmed = coordinator.watch.standing.status is ScheduleStatus.CONFIRMED
    acts = acting(coordinator, now, now + timedelta(microseconds=1))
    past.follow(acts, now, level_now(coordinator), confirmed=confirmed)
    if looked is not None and now - looked > LEVEL_HOLDS:
        past.missed([one for one in acting(coordinator, looked, now) if one.start > looked and one.end <= now])
