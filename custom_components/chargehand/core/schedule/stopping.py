"""Stopping the charge by schedule, and starting it again: disarmed, or without charge windows where nothing disarms."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import ClassVar

from .decision import Found, Target, within_battery
from .image import can_disarm, points_of, write_schedule
from .request_check import check_edit
from .slot_image import taken_off
from .windows import Schedule, Side, Window

_NO_CHARGE = frozenset({"discharge", "hold"})
"""What a place may be used for that charges nothing; a value that the map does not name may charge."""


def charges(schedule: Schedule) -> bool:
    """Return whether a charge window may act. One whose times cannot be read may, and so may a place that is used otherwise."""
    return schedule.armed is not False and any(_may_charge(side, window) for side, _, window in schedule.places())


def _may_charge(side: Side, window: Window) -> bool:
    if window.other_use is not None:
        return window.other_use not in _NO_CHARGE
    return side is Side.CHARGE and (window.used or not window.readable)


@dataclass(frozen=True, slots=True)
class ChargeStopped:
    """The schedule that the inverter holds, disarmed if a charge window may act; without charge windows where nothing disarms."""

    asks_battery: ClassVar[bool] = False

    def target(self, found: Found) -> Target:
        """Return the image to write. There is nothing to reject: less charging is always possible."""
        held, points = found.schedule, found.points
        if not charges(held):
            return Target(image=found.image)
        if can_disarm(points):
            stopped = replace(held, armed=False)
        else:
            stopped = held
            for side, number, window in held.places():
                if _may_charge(side, window):
                    where = points_of(points, side)[number - 1]
                    stopped = stopped.with_window(side, number, taken_off(where, window))
        return Target(image=write_schedule(points, stopped, found.image, found.shift))


@dataclass(frozen=True, slots=True)
class ChargeResumed:
    """The schedule that the inverter holds, armed again; with these charge windows if it has none, unless it charges already."""

    asks_battery: ClassVar[bool] = True

    charge: Sequence[Window]
    """All charge windows in their places, as they were before the charge was stopped."""

    def target(self, found: Found) -> Target:
        """Return the image to write. Raises Rejected, as for any new charge."""
        held, points = found.schedule, found.points
        if charges(held):
            return Target(image=found.image)
        resumed = replace(held, armed=True) if can_disarm(points) else held
        if not any(window.used for window in held.charge) and len(self.charge) == len(held.charge):
            resumed = replace(resumed, charge=tuple(self.charge))
        return within_battery(found, check_edit(points, found.image, resumed, shift=found.shift))
