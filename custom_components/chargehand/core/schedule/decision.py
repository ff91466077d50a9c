"""What is asked for, and the image that an inverter is to have for it. Nothing is sent before this has passed."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import ClassVar, Protocol

from ..registers import SchedulePoints
from .image import Image, masks_of, read_schedule, upon, write_schedule
from .protection import Battery, protect
from .request import Adjustment, Rejected, ScheduleRequest
from .request_check import check, check_edit
from .windows import Schedule


@dataclass(frozen=True, kw_only=True, slots=True)
class Found:
    """What a change starts from: the image just read, what the battery says of itself, and the clocks' shift in minutes."""

    points: SchedulePoints
    image: Image
    battery: Battery
    shift: int

    @property
    def schedule(self) -> Schedule:
        """The image in the house's time."""
        return read_schedule(self.points, self.image, self.shift)


@dataclass(frozen=True, kw_only=True, slots=True)
class Target:
    """What the inverter is to hold, and where that is not what was asked for."""

    image: Image
    adjusted: tuple[Adjustment, ...] = ()


class ChangeRequest(Protocol):
    """Something that a user asks for."""

    asks_battery: ClassVar[bool]
    """Whether the battery has to be asked for it."""

    def target(self, found: Found) -> Target:
        """Return the image to write. Raises Rejected with every reason found, or why the battery could not be read."""


@dataclass(frozen=True, slots=True)
class Requested:
    """A schedule as it was typed."""

    asks_battery: ClassVar[bool] = True

    request: ScheduleRequest

    def target(self, found: Found) -> Target:
        """Return the image to write. Raises Rejected."""
        checked = check(found.points, found.image, self.request, shift=found.shift, voltage=found.battery.voltage)
        if self.request.override:
            return _written(found, checked.schedule, checked.adjusted)
        return within_battery(found, checked.schedule, checked.adjusted)


@dataclass(frozen=True, slots=True)
class Edited:
    """The schedule that the inverter holds, with one change."""

    asks_battery: ClassVar[bool] = True

    change: Callable[[Schedule], Schedule]

    def target(self, found: Found) -> Target:
        """Return the image to write. Raises Rejected."""
        edited = check_edit(found.points, found.image, self.change(found.schedule), shift=found.shift)
        return within_battery(found, edited)


@dataclass(frozen=True, slots=True)
class Earlier:
    """An image that the inverter held before, as far as its map still names the registers."""

    asks_battery: ClassVar[bool] = False

    image: Image

    def target(self, found: Found) -> Target:
        """Return the image to write."""
        named = {address: self.image.get(address, value) for address, value in found.image.items()}
        return Target(image=upon(named, found.image, masks_of(found.points)))


def within_battery(found: Found, schedule: Schedule, adjusted: tuple[Adjustment, ...] = ()) -> Target:
    """Return the target for a schedule, within what the battery allows. Raises Rejected."""
    protected = protect(found.points, found.schedule, schedule, found.battery)
    if protected.reasons:
        raise Rejected(protected.reasons, momentary=True)
    return _written(found, protected.schedule, adjusted + protected.adjusted)


def _written(found: Found, schedule: Schedule, adjusted: tuple[Adjustment, ...]) -> Target:
    return Target(image=write_schedule(found.points, schedule, found.image, found.shift), adjusted=adjusted)
