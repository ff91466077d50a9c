"""The stages of a change: images to pass through, so that the inverter never acts on a mixture of two schedules.

A change that one frame holds is atomic and has one stage. Any other first takes away what would act: the whole schedule where
there is a switch that disarms it, else each window that changes. What acts again is written last. Each stage is read back before
the next begins, since a stage that did not take must not be built upon.
"""

from collections.abc import Callable, Collection
from functools import partial

from ..registers import Address, SchedulePoints, WindowPoints
from .frames import frames
from .image import Image, can_disarm

type Stages = Callable[[Image, Image], tuple[Image, ...]]
"""From the image that is there to the images to write one after the other; the last is the target."""


class NotSafely(Exception):
    """The change takes several frames, and this map names nothing that could keep the inverter from acting in between."""


def one_frame_stages(named: tuple[Address, ...], longest: int) -> Stages:
    """Stages for registers with nothing around them that acts: a single control. Raises NotSafely for more than one frame."""

    def stages(seen: Image, target: Image) -> tuple[Image, ...]:
        if len(frames(seen, target, named, longest)) > 1:
            raise NotSafely
        return (target,)

    return stages


def schedule_stages(points: SchedulePoints, longest: int) -> Stages:
    """Stages for a schedule; `longest` is how many registers one frame may write."""
    named = points.addresses

    def count(seen: Image, target: Image) -> int:
        return len(frames(seen, target, named, longest))

    def stages(seen: Image, target: Image) -> tuple[Image, ...]:
        if count(seen, target) <= 1:
            return (target,)
        if can_disarm(points):
            return _distinct(seen, _disarmed(points, seen), _disarmed(points, target), target)
        # What arms without a way to disarm (a mode among several) may still be reached last.
        waiting = {**target, **_arming(points, seen)}
        windows = [where for where in (*points.charge, *points.discharge) if _differs(where, seen, target)]
        blanked = {where: _blanking(where, named, longest) for where in windows}
        empty_seen, empty_target = dict(seen), dict(waiting)
        for blank in blanked.values():
            empty_seen |= blank(seen)
            empty_target |= blank(waiting)
        return _distinct(seen, empty_seen, empty_target, waiting, target)

    return stages


def _distinct(seen: Image, *images: Image) -> tuple[Image, ...]:
    """The images without those that repeat the one before."""
    kept: list[Image] = []
    last = seen
    for image in images:
        if image != last:
            kept.append(image)
            last = image
    return tuple(kept)


def _disarmed(points: SchedulePoints, image: Image) -> Image:
    assert points.armed_by is not None
    control = points.armed_by.control
    if control.decode(image) != points.armed_by.value:
        return image
    return {**image, **control.encode(not points.armed_by.value, image)}


def _arming(points: SchedulePoints, image: Image) -> Image:
    """The registers that arm, as an image has them."""
    if points.armed_by is None:
        return {}
    return {address: image[address] for address in points.armed_by.control.point.addresses}


def _differs(where: WindowPoints, seen: Image, target: Image) -> bool:
    return any(seen[address] != target[address] for address in where.addresses)


def _blanking(where: WindowPoints, named: Collection[Address], longest: int) -> Callable[[Image], Image]:
    """How to keep one window from acting, by one frame on the way in and one on the way out. Raises NotSafely.

    It follows from the map alone, whatever the registers hold: going back must pass through nothing that going there does not.
    """
    for addresses, blank in _ways(where):
        held = [address for _, address in addresses]
        span = range(min(held), max(held) + 1)
        if len(span) <= longest and {address for _, address in named}.issuperset(span):
            return blank
    raise NotSafely


def _ways(where: WindowPoints) -> list[tuple[tuple[Address, ...], Callable[[Image], Image]]]:
    """Ways to keep a window from acting, the plainest first, with the registers that each writes."""
    ways: list[tuple[tuple[Address, ...], Callable[[Image], Image]]] = []
    active = where.active
    if active is not None:
        ways.append((active.addresses, lambda image: active.encode(False, image)))
    times = (*where.start.addresses, *where.end.addresses)
    ways.append((times, lambda _: where.start.encode(0) | where.end.encode(0)))
    for limit in (where.current, where.power):
        if limit is not None and limit.minimum <= 0:
            point = limit.point
            ways.append((point.addresses, partial(point.encode, 0)))
    return ways
