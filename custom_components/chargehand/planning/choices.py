"""Which windows there are to choose from: the runs of cheap steps, parts of them, and small changes of a set of windows."""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np

from .battery import Battery
from .horizon import Horizon
from .tariff import Floats
from .windows import Limits, Slot, SlotSet

MOST_THRESHOLDS = 8
MOVES = (1, 2, 4)
"""Steps by which a start or an end is moved while searching."""
STOP_MOVES = (1, 2, 3, 5, 10, 20, 40)
"""Per cent by which a stop level is moved while searching."""
POWER_SHARES = (1.0, 0.75, 0.5, 0.25)

type Span = tuple[int, int]
"""First step, and the step after the last."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Choice:
    """What windows may be in steps `first` to before `last` of a horizon."""

    battery: Battery
    limits: Limits
    horizon: Horizon
    first: int
    last: int
    edges: tuple[bool, ...] = field(init=False)
    """Whether the inverter can start or end a window at each step, and at the end of the last."""

    def __post_init__(self) -> None:
        """Look the edges up."""
        starts = [self.horizon.at(step) for step in range(self.first, self.last + 1)]
        step_minutes = self.limits.step_minutes
        edges = tuple((start.hour * 60 + start.minute) % step_minutes == 0 for start in starts)
        object.__setattr__(self, "edges", edges)

    @property
    def steps(self) -> int:
        """How many."""
        return self.last - self.first

    @property
    def stops(self) -> tuple[int, int]:
        """Lowest and highest stop level, in whole %."""
        highest = int(self.battery.highest_level)
        return min(int(np.ceil(self.limits.lowest_stop_level)), highest), highest

    @property
    def power(self) -> float:
        """The highest power of a window, in kW."""
        return self.limits.power(self.battery)

    def holds(self, slots: SlotSet) -> bool:
        """Whether the inverter can hold these windows."""
        if any(before.end > after.begin for before, after in pairwise(slots)):
            return False
        lowest, highest = self.stops
        for slot in slots:
            if not (0 <= slot.begin < slot.end <= self.steps and lowest <= slot.stop <= highest):
                return False
            if not (self.edges[slot.begin] and self.edges[slot.end]):
                return False
        return self.takes(slots) <= self.limits.windows

    def takes(self, slots: SlotSet) -> int:
        """How many of the inverter's windows they are."""
        return len(slots) + sum(self._splits(slot) for slot in slots)

    def _splits(self, slot: Slot) -> bool:
        if not self.limits.splits_at_midnight:
            return False
        begun, ended = self.horizon.at(self.first + slot.begin), self.horizon.at(self.first + slot.end - 1)
        return begun.date() != ended.date()


def cheap_runs(buy: Floats) -> list[list[Span]]:
    """For each of some prices, cheapest first, the runs of steps that cost no more. Never the dearest: all steps are no choice."""
    levels = np.unique(buy)[:-1]
    if len(levels) > MOST_THRESHOLDS:
        levels = np.unique(np.quantile(buy, np.linspace(0.04, 0.75, MOST_THRESHOLDS), method="lower"))
    return [runs(buy <= level) for level in levels]


def parts(span: Span) -> Iterator[Span]:
    """A run itself, and the run begun later or ended earlier by quarters."""
    begin, end = span
    length = end - begin
    yield span
    for quarter in (1, 2, 3):
        cut = round(length * quarter / 4)
        if 0 < cut < length:
            yield begin + cut, end
            yield begin, end - cut


def single_windows(choice: Choice, buy: Floats, stops: int, *, whole: bool = False) -> list[SlotSet]:
    """Each run (its parts too, unless `whole`) with so many stop levels, at full power."""
    spans = dict.fromkeys(
        part for cheap in cheap_runs(buy) for run in cheap for part in ([run] if whole else parts(run))
    )
    lowest, highest = choice.stops
    levels = dict.fromkeys(round(level) for level in np.linspace(lowest, highest, stops))
    sets = [(Slot(begin=begin, end=end, stop=stop, power=choice.power),) for begin, end in spans for stop in levels]
    return [one for one in sets if choice.holds(one)]


def same_stop_sets(choice: Choice, buy: Floats, stops: int) -> list[SlotSet]:
    """For each price the longest runs that cost no more, as many as the inverter holds, all with one stop level."""
    lowest, highest = choice.stops
    levels = dict.fromkeys(round(level) for level in np.linspace(lowest, highest, stops))
    found: list[SlotSet] = []
    for cheap in cheap_runs(buy):
        for count in range(2, choice.limits.windows + 1):
            longest = sorted(sorted(cheap, key=lambda run: run[0] - run[1])[:count])
            if len(longest) == count:
                found += [
                    tuple(Slot(begin=begin, end=end, stop=stop, power=choice.power) for begin, end in longest)
                    for stop in levels
                ]
    return [one for one in found if choice.holds(one)]


def neighbours(choice: Choice, slots: SlotSet, others: list[SlotSet]) -> list[SlotSet]:
    """Sets that differ from this one in one window: moved, at another level or power, taken out, or one of `others` put in."""
    found: list[SlotSet] = []
    for at, slot in enumerate(slots):
        rest = (*slots[:at], *slots[at + 1 :])
        found.append(rest)
        found += [tuple(sorted((*rest, changed))) for changed in _changed(choice, slot)]
    found += [tuple(sorted((*slots, *other))) for other in others]
    return [one for one in dict.fromkeys(found) if one != slots and choice.holds(one)]


def at_levels(choice: Choice, slots: SlotSet, *, near: bool) -> list[SlotSet]:
    """The same windows, one of them with another stop level: all there are, or some of the near ones."""
    lowest, highest = choice.stops
    found = []
    for at, slot in enumerate(slots):
        near_by = [slot.stop + move for by in STOP_MOVES for move in (by, -by)]
        stops = [stop for stop in near_by if lowest <= stop <= highest] if near else range(lowest, highest + 1)
        found += [(*slots[:at], replace(slot, stop=stop), *slots[at + 1 :]) for stop in stops]
    return found


def _changed(choice: Choice, slot: Slot) -> Iterator[Slot]:
    for by in (*MOVES, *(-move for move in MOVES)):
        yield replace(slot, begin=slot.begin + by)
        yield replace(slot, end=slot.end + by)
        yield replace(slot, begin=slot.begin + by, end=slot.end + by)
    lowest, highest = choice.stops
    for by in (*STOP_MOVES, *(-move for move in STOP_MOVES)):
        yield replace(slot, stop=min(max(slot.stop + by, lowest), highest))
    for share in POWER_SHARES:
        yield replace(slot, power=round(choice.power * share, 3))


def runs(cheap: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> list[Span]:
    """The steps that are cheap, as runs of those next to each other."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], cheap, [False])).astype(np.int8)))
    return [(int(begin), int(end)) for begin, end in zip(edges[::2], edges[1::2], strict=True)]
