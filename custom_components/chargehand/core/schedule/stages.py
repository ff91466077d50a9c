"""The stages of a change: images to pass through, so that the inverter never acts on a mixture of two schedules.

After each request that reaches the inverter, whichever others are lost, it acts on windows of the earlier schedule alone or of the new
one alone, perhaps on fewer, and never on one with parts of both. Ways to go are tried in order, and each is simulated frame by frame
before any is sent. A window that stays as it is goes on acting wherever the map allows it. Each stage is read back before the next
begins, since a stage that did not take must not be built upon.
"""

from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import compress, product

from ..registers import Address, Point, SchedulePoints
from .acting_image import ActingWindow, WindowState, acting_windows, is_armed, own_bits
from .frames import Frame, FrameRules, NoFrames, Together, frames
from .image import Image, can_disarm


@dataclass(frozen=True, kw_only=True, slots=True)
class Stage:
    """An image to write and to read back. What changes of each group in `together` goes in one request."""

    image: Image
    together: Together = ()


type Stages = Callable[[Image, Image], tuple[Stage, ...]]
"""From the image that is there to those to write one after the other; the last one's is the target."""


class NotSafely(Exception):
    """The change takes several frames, and this map names nothing that could keep the inverter from acting in between."""


def one_frame_stages(rules: FrameRules) -> Stages:
    """Return the stages of registers with nothing around them that acts: a single control. They raise NotSafely for more than one frame."""

    def stages(seen: Image, target: Image) -> tuple[Stage, ...]:
        if len(frames(seen, target, rules)) > 1:
            raise NotSafely
        return (Stage(image=target),)

    return stages


def inactive_stages(seen: Image, target: Image) -> tuple[Stage, ...]:
    """Return the stages of registers that do not act before a write after them: whatever takes of one, no mixture acts."""
    return () if seen == target else (Stage(image=target),)


KEPT = 8
"""Ways that are kept in mind: a commit asks for the same ones several times."""


MOST_LOOSE = 12
"""Frames of one stage that touch a window while it may act: each doubles the mixtures to look at. More are taken for unsafe."""

MIXTURE: WindowState = ()
"""A state that is in neither schedule."""


def schedule_stages(points: SchedulePoints, rules: FrameRules) -> Stages:
    """Return the stages of a schedule. They raise NotSafely where there is no safe way to the target, or none back."""
    return _Ways(points, rules).stages


class _Ways:
    """Ways from one image of a schedule to another."""

    def __init__(self, points: SchedulePoints, rules: FrameRules) -> None:
        self._points = points
        self._rules = rules
        self._windows = acting_windows(points)
        self._known: dict[tuple[tuple[int, ...], ...], tuple[Stage, ...] | None] = {}

    def stages(self, seen: Image, target: Image) -> tuple[Stage, ...]:
        """Return the stages from `seen` to `target`. Raises NotSafely."""
        safe = self._safe_way(seen, target)
        # A change that does not take is taken back, which must be no less safe.
        if safe is None or self._safe_way(target, seen) is None:
            raise NotSafely
        return safe

    def _safe_way(self, seen: Image, target: Image) -> tuple[Stage, ...] | None:
        key = (tuple(seen.values()), tuple(target.values()))
        if key not in self._known:
            while len(self._known) >= KEPT:
                del self._known[next(iter(self._known))]
            ways = (_distinct(seen, way) for way in self._ways(seen, target))
            self._known[key] = next((way for way in ways if self._is_safe(seen, way)), None)
        return self._known[key]

    def _ways(self, seen: Image, target: Image) -> Iterator[tuple[Stage, ...]]:
        """Ways from an image to another, the plainest first."""
        yield (Stage(image=target),)
        armed, arms = is_armed(self._points, seen), is_armed(self._points, target)
        if self._points.armed_by is not None and armed != arms:
            control = self._points.armed_by.control.point
            group = (control.addresses,)
            # What disarms comes first, what arms last: in between nothing acts.
            between = _with_part(control, target, seen) if armed else _with_part(control, seen, target)
            yield (Stage(image=between, together=group), Stage(image=target, together=group))
        if armed and arms:
            changed = [window for window in self._windows if window.says(seen) != window.says(target)]
            acting = [window for window in changed if window.state(seen) or window.state(target)]
            stays = any(window.state(seen) for window in self._windows if window not in changed)
            blanking = (self._blanked(seen, target, some) for some in (acting, changed))
            disarming = self._disarmed(seen, target)
            # Disarming all takes away for a moment what could stay, but wears fewer registers where nothing stays.
            yield from (*blanking, *disarming) if stays else (*disarming, *blanking)

    def _disarmed(self, seen: Image, target: Image) -> Iterator[tuple[Stage, ...]]:
        armed_by = self._points.armed_by
        if armed_by is None or not can_disarm(self._points):
            return
        control, off = armed_by.control, not armed_by.value
        group = (control.point.addresses,)
        yield (
            Stage(image={**seen, **control.encode(off, seen)}, together=group),
            Stage(image={**target, **control.encode(off, target)}),
            Stage(image=target, together=group),
        )

    def _blanked(self, seen: Image, target: Image, windows: Iterable[ActingWindow]) -> tuple[Stage, ...]:
        """First take away the windows that change, then write all but what lets them act, then that."""
        empty_seen, empty_target = dict(seen), dict(target)
        groups: list[Collection[Address]] = []
        for window in windows:
            for group, blank in _blankings(window, seen):
                if self._rules.fit_together(group):
                    groups.append(group)
                    # One after the other: windows may have their bits in one register.
                    empty_seen |= blank(empty_seen)
                    empty_target |= blank(empty_target)
                    break
        return (
            Stage(image=empty_seen, together=groups),
            Stage(image=empty_target),
            Stage(image=target, together=groups),
        )

    # ---- simulating a way

    def _is_safe(self, seen: Image, stages: Sequence[Stage]) -> bool:
        """Whether the inverter acts on one schedule alone after each frame, whichever other frames of its stage were lost."""
        before = seen
        for stage in stages:
            try:
                sent = frames(before, stage.image, self._rules, stage.together)
            except NoFrames:
                return False
            # One request that does it all is taken whole or not at all.
            whole = len(stages) == 1 and len(sent) == 1
            if not whole and not self._passes(before, sent, seen, stages[-1].image):
                return False
            before = stage.image
        return True

    def _passes(self, before: Image, sent: Sequence[Frame], seen: Image, target: Image) -> bool:
        """Whether any part of a stage's frames leaves windows of the earlier schedule alone, or of the new one alone."""
        written = [_new(frame, before) for frame in sent]
        only_old = only_new = True
        for window in self._windows:
            states = set(_states(window, before, written))
            only_old &= states <= {None, window.state(seen)}
            only_new &= states <= {None, window.state(target)}
            if not (only_old or only_new):
                return False
        return True


def _states(window: ActingWindow, before: Image, written: Sequence[Image]) -> Iterator[WindowState]:
    """Yield what a window may act on after any part of some frames."""
    touching = [new for new in written if not window.concerned.isdisjoint(new)]
    if not touching:
        yield window.state(before)
        return
    changed = {address for new in touching for address in new}
    if any(rest.holds(before) and changed.isdisjoint(rest.addresses) for rest in window.rests):
        yield None
        return
    if len(touching) > MOST_LOOSE:
        yield MIXTURE
        return
    for taken in product((False, True), repeat=len(touching)):
        image = dict(before)
        for new in compress(touching, taken):
            image |= new
        yield window.state(image)


def _new(frame: Frame, before: Image) -> Image:
    """Return what a frame writes that was not there before."""
    written = zip(frame.addresses, frame.values, strict=True)
    return {address: value for address, value in written if value != before[address]}


type Blanking = tuple[tuple[Address, ...], Callable[[Image], Image]]
"""The registers by which a window is kept from acting, and what they are then."""


def _blankings(window: ActingWindow, image: Image) -> Iterator[Blanking]:
    """Ways to keep a window from acting, the plainest first. There is none for a list of times, which is never without parts."""
    if window.where is None:
        return
    active = window.where.active
    if active is not None:
        yield active.addresses, lambda image: active.encode(False, image)
    whole = {address: value for blank in window.blanks for address, value in blank.items()}
    for blank in (whole, *window.blanks):
        yield tuple(blank), partial(_as_it_is, blank)
    for limit in (window.where.current, window.where.power):
        # In % of a value that was not read nothing can be written, not even 0.
        if limit is not None and limit.can_be_zero and limit.point.decode(image) is not None:
            yield limit.point.addresses, partial(limit.point.encode, 0)


def _as_it_is(registers: Image, _: Image) -> Image:
    return registers


def _with_part(part: Point, source: Image, onto: Image) -> Image:
    """Return an image with one point as another image has it; of a shared register only that point's bits."""
    bits = own_bits(part)
    return {
        **onto,
        **{address: (onto[address] & ~bits & 0xFFFF) | (source[address] & bits) for address in part.addresses},
    }


def _distinct(seen: Image, stages: Iterable[Stage]) -> tuple[Stage, ...]:
    """Return the stages without those that change nothing."""
    kept: list[Stage] = []
    last = seen
    for stage in stages:
        if stage.image != last:
            kept.append(stage)
            last = stage.image
    return tuple(kept)
