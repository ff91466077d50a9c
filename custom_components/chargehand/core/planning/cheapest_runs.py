"""The cheapest times to charge for so long, with no more windows than there is room for: the exact optimum.

A dynamic programme over the times in order. Its state is the windows used, the minutes charged, whether a run goes on and whether
one has begun. Costs are whole numbers, so that equal ones are equal and the choice among them is the same every time.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from math import ceil
from typing import NamedTuple

from .tariff import DatedPrice

MINUTE = timedelta(minutes=1)

COST_PARTS = 1_000_000
"""Of the currency: prices are rounded to these."""


@dataclass(frozen=True, kw_only=True, slots=True)
class WindowRoom:
    """How many windows there are, and what takes one."""

    windows: int
    rests: bool = False
    """Whether the time between two runs takes a window too, and one rest follows the last."""

    midnight: datetime | None = None
    """A window over this moment takes two; None: it takes one."""


class _State(NamedTuple):
    windows: int
    minutes: int
    runs_on: bool
    begun: bool


class _Way(NamedTuple):
    """The best way to a state: its cost, then the later the better, and what was picked last, before it, and so on."""

    cost: int
    early: int
    picked: _Picked | None


class _Picked(NamedTuple):
    at: int
    before: _Picked | None


def cheapest_runs(
    times: Sequence[DatedPrice], needed_minutes: float, room: WindowRoom, now: datetime
) -> list[tuple[datetime, datetime]]:
    """Return start and end of each run of the whole times to charge in from `now`, in order; none where nothing is needed.

    `times` follow each other without a gap, all aware. Each costs as much as it takes to charge for all of it, also the one that has begun:
    what is left of it is not cheaper. Of choices that cost the same, one with the fewest windows is returned, and of these
    the latest: the one whose times begin the least before the end of all, in sum. Where there is no room for so many minutes, the cheapest of the choices with the most minutes.
    """
    lengths = [_minutes(max(time.start, now), time.end) for time in times]
    needed = min(ceil(needed_minutes - 1e-6), sum(lengths))
    if needed <= 0:
        return []
    best: dict[_State, _Way] = {_State(0, 0, False, False): _Way(0, 0, None)}
    for at, (time, length) in enumerate(zip(times, lengths, strict=True)):
        after: dict[_State, _Way] = {}
        at_midnight = at > 0 and time.start == room.midnight
        cost = round(time.buy * COST_PARTS) * _minutes(time.start, time.end)
        early = _minutes(time.start, times[-1].end)
        for state, way in best.items():
            rested = state.windows + (at_midnight and room.rests and state.begun)
            _offer(after, room, state._replace(windows=rested, runs_on=False), way)
            if state.minutes >= needed or length <= 0:
                continue
            opened = 0 if state.runs_on else 2 if room.rests and state.begun else 1
            crossed = at_midnight and (state.runs_on or (room.rests and state.begun))
            reached = min(state.minutes + length, needed)
            _offer(
                after,
                room,
                _State(state.windows + opened + crossed, reached, True, True),
                _Way(way.cost + cost, way.early + early, _Picked(at, way.picked)),
            )
        best = after
    _, way = min(best.items(), key=lambda one: (-one[0].minutes, one[1].cost, one[0].windows, one[1].early))
    return _runs(times, way.picked)


def _minutes(start: datetime, end: datetime) -> int:
    return (end - start) // MINUTE


def _offer(best: dict[_State, _Way], room: WindowRoom, state: _State, way: _Way) -> None:
    """Keep a way to a state if there is room for it and it is the best so far."""
    if state.windows <= room.windows and (state not in best or way[:2] < best[state][:2]):
        best[state] = way


def _runs(times: Sequence[DatedPrice], picked: _Picked | None) -> list[tuple[datetime, datetime]]:
    """Return what was picked as runs of times next to each other."""
    order: list[int] = []
    while picked is not None:
        order.insert(0, picked.at)
        picked = picked.before
    if not order:
        return []
    breaks = [at for at, (one, other) in enumerate(pairwise(order), start=1) if other != one + 1]
    edges = [0, *breaks, len(order)]
    return [(times[order[first]].start, times[order[end - 1]].end) for first, end in pairwise(edges)]


def split_at(times: Sequence[DatedPrice], moment: datetime) -> list[DatedPrice]:
    """Return the same times, with one that `moment` is inside cut in two there."""
    cut: list[DatedPrice] = []
    for time in times:
        if time.start < moment < time.end:
            cut += [
                DatedPrice(start=time.start, end=moment, buy=time.buy, sell=time.sell),
                DatedPrice(start=moment, end=time.end, buy=time.buy, sell=time.sell),
            ]
        else:
            cut.append(time)
    return cut
