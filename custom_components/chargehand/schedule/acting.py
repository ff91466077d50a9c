"""When windows act, by the inverter's clock."""

from datetime import datetime, time, timedelta

from .windows import Schedule


def charging_now(schedule: Schedule, now: datetime, clock_offset: float = 0.0) -> bool:
    """Whether an armed charge window covers this moment on the inverter's clock. `now` is aware local time."""
    if schedule.armed is False:
        return False
    shown = now + timedelta(seconds=clock_offset)
    minute = shown.hour * 60 + shown.minute
    return any(window.covers(minute) for window in schedule.charge)


def next_charge_start(schedule: Schedule, now: datetime, clock_offset: float = 0.0) -> datetime | None:
    """When the next armed charge window starts in the house's time, seen from aware local time; None when none will."""
    if schedule.armed is False:
        return None
    starts: list[datetime] = []
    for window in schedule.charge:
        if not window.used:
            continue
        for days in range(3):
            day = (now + timedelta(days=days - 1)).date()
            at = datetime.combine(day, time(window.start // 60, window.start % 60), now.tzinfo)
            real = at - timedelta(seconds=round(clock_offset))
            if real > now:
                starts.append(real)
    return min(starts, default=None)
