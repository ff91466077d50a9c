"""Sets of charge windows to choose from, as arrays: one row a set, one column a window."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from math import ceil

import numpy as np
from numpy.typing import NDArray

from .battery import Battery
from .faults import BadLimits
from .tariff import Floats


@dataclass(frozen=True, kw_only=True, slots=True)
class Limits:
    """What the inverter can hold. Raises BadLimits."""

    windows: int = 3
    step_minutes: int = 1
    """Its windows start and end at multiples of it."""
    splits_at_midnight: bool = False
    """A window over midnight takes two of its windows."""
    lowest_stop_level: float = 10.0
    most_kw: float | None = None
    """Highest power of a window at the battery's terminals, in kW; None: what the battery takes."""
    one_stop_level: bool = False
    """Whether all windows have the same stop level."""
    one_power: bool = False
    """Whether all windows have the same power."""

    def __post_init__(self) -> None:
        """Raise BadLimits."""
        if self.windows < 0 or self.step_minutes < 1 or not 0 <= self.lowest_stop_level <= 100:
            raise BadLimits("windows from 0, steps from 1 minute and a stop level from 0 to 100 %: give such ones")
        if self.most_kw is not None and not self.most_kw > 0:
            raise BadLimits(f"most_kw is {self.most_kw:g}: give a number above 0, or leave it out")

    def power(self, battery: Battery) -> float:
        """Return the highest power of a window in kW."""
        return battery.charge_kw if self.most_kw is None else min(self.most_kw, battery.charge_kw)

    def stop_levels(self, battery: Battery) -> tuple[int, int]:
        """Return the lowest and the highest stop level in whole %; raises BadLimits where no level is both allowed and possible."""
        lowest, highest = ceil(self.lowest_stop_level), int(battery.highest_level)
        if lowest > highest:
            raise BadLimits(
                f"the inverter's windows stop at {lowest} % or above, and the battery may be charged to "
                f"{battery.highest_level:g} %: raise the highest level",
                "stop_above_highest",
                lowest=f"{lowest}",
                highest=f"{battery.highest_level:g}",
            )
        return lowest, highest


@dataclass(frozen=True, kw_only=True, slots=True, order=True)
class Slot:
    """A window from step `begin` to before step `end`: `stop` is its level in %, `power` its power in kW."""

    begin: int
    end: int
    stop: int
    power: float


type SlotSet = tuple[Slot, ...]
"""Windows that do not overlap, in order."""


def alike(slots: SlotSet, limits: Limits) -> list[SlotSet]:
    """Return the sets that the inverter can hold instead: all windows with one of their stop levels, and one of their powers."""
    if not slots or not (limits.one_stop_level or limits.one_power):
        return [slots]
    stops = dict.fromkeys(slot.stop for slot in slots) if limits.one_stop_level else [None]
    powers = dict.fromkeys(slot.power for slot in slots) if limits.one_power else [None]
    return [
        tuple(
            replace(slot, stop=slot.stop if stop is None else stop, power=slot.power if power is None else power)
            for slot in slots
        )
        for stop in stops
        for power in powers
    ]


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Candidates:
    """(sets, windows): first step, step after the last, stop level in kWh stored, power in kW. Unused: begin = end."""

    sets: tuple[SlotSet, ...]
    begin: NDArray[np.int64]
    end: NDArray[np.int64]
    stop: Floats
    power: Floats


def candidates(sets: Iterable[SlotSet], battery: Battery) -> Candidates:
    """Return sets as arrays, each set once, in order of their coming."""
    kept: Sequence[SlotSet] = tuple(dict.fromkeys(sets))
    width = max(1, *(len(one) for one in kept)) if kept else 1
    shape = (len(kept), width)
    begin, end = np.zeros(shape, dtype=np.int64), np.zeros(shape, dtype=np.int64)
    stop, power = np.zeros(shape), np.zeros(shape)
    for row, one in enumerate(kept):
        for column, slot in enumerate(one):
            begin[row, column], end[row, column] = slot.begin, slot.end
            stop[row, column], power[row, column] = battery.energy(slot.stop), slot.power
    return Candidates(sets=tuple(kept), begin=begin, end=end, stop=stop, power=power)
