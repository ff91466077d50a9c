"""The parts of a register map that not every inverter has."""

from ..registers import Clock, RegisterMap, SchedulePoints
from .snapshot import CLOCK, SCHEDULE


class NotSupported(Exception):
    """The register map has no schedule, or no clock."""

    def __init__(self, what: str) -> None:
        """Initialize the error with the missing part: `schedule` or `clock`."""
        super().__init__(what)
        self.what = what


def schedule_points(register_map: RegisterMap) -> SchedulePoints:
    """Return the map's schedule. Raises NotSupported."""
    if register_map.schedule is None:
        raise NotSupported(SCHEDULE)
    return register_map.schedule


def clock_points(register_map: RegisterMap) -> Clock:
    """Return the map's clock. Raises NotSupported."""
    if register_map.clock is None:
        raise NotSupported(CLOCK)
    return register_map.clock
