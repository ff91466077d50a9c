"""The cheapest times to charge in, against every choice that there is: tried one by one, with none of the code that they judge."""

import random
from datetime import UTC, datetime, timedelta
from fractions import Fraction
from itertools import product

import pytest

from custom_components.chargehand.core.planning import DatedPrice, WindowRoom, cheapest_runs, split_at

EVENING = datetime(2026, 1, 10, 22, 0, tzinfo=UTC)
MIDNIGHT = datetime(2026, 1, 11, tzinfo=UTC)


def times(*lengths_and_prices: tuple[int, float]) -> list[DatedPrice]:
    """Times one after another from 22:00: minutes and price of each."""
    found, at = [], EVENING
    for minutes, price in lengths_and_prices:
        found.append(DatedPrice(start=at, end=at + timedelta(minutes=minutes), buy=price))
        at += timedelta(minutes=minutes)
    return found


def half_hours(*prices: float) -> list[DatedPrice]:
    return times(*((30, price) for price in prices))


def shown(runs: list[tuple[datetime, datetime]]) -> list[str]:
    return [f"{start:%H:%M}-{end:%H:%M}" for start, end in runs]


def chosen_by_trying_all(given: list[DatedPrice], needed: int, room: WindowRoom, now: datetime) -> list[DatedPrice]:
    """The choice by its definition: what is picked is charged in, in order, until the need is met; then nothing more is picked."""
    whole = [round((one.end - one.start) / timedelta(minutes=1)) for one in given]
    passed = round((now - given[0].start) / timedelta(minutes=1))
    minutes = [whole[0] - passed, *whole[1:]]
    needed = min(needed, sum(minutes))
    ranked = []
    for picks in product((False, True), repeat=len(given)):
        picked = [at for at, pick in enumerate(picks) if pick]
        charged = [minutes[at] for at in picked]
        if charged and sum(charged[:-1]) >= needed:
            continue
        blocks = "".join("x" if pick else "." for pick in picks).split(".")
        windows = len([block for block in blocks if block])
        if room.rests:
            # What lies between two runs is a window too.
            windows = max(2 * windows - 1, 0)
        if room.midnight is not None:
            windows += over_midnight(given, picked, room)
        if windows > room.windows:
            continue
        cost = sum((Fraction(str(given[at].buy)) * whole[at] for at in picked), Fraction(0))
        early = sum(given[-1].end.timestamp() - given[at].start.timestamp() for at in picked)
        ranked.append((-min(sum(charged), needed), cost, windows, early, picked))
    return [given[at] for at in min(ranked)[-1]] if needed > 0 else []


def over_midnight(given: list[DatedPrice], picked: list[int], room: WindowRoom) -> int:
    """One more window if one goes on from before midnight to after it."""
    before = [at for at in picked if given[at].start < room.midnight]
    if not before or given[-1].end <= room.midnight:
        return 0
    if room.rests:
        return 1
    (last, first) = max(before), next((at for at in picked if given[at].start >= room.midnight), None)
    return int(first == last + 1)


def as_times(runs: list[tuple[datetime, datetime]], given: list[DatedPrice]) -> list[DatedPrice]:
    return [one for one in given if any(start <= one.start and one.end <= end for start, end in runs)]


@pytest.mark.parametrize("seed", range(600))
def test_it_is_the_best_of_all_choices(seed: int) -> None:
    chance = random.Random(seed)
    prices = [0.05, 0.10, 0.10, 0.25, 0.40, -0.02, 0.101]
    lengths = chance.choice([[30], [60], [15, 30, 60], [29, 30]])
    given = times(*((chance.choice(lengths), chance.choice(prices)) for _ in range(chance.randint(1, 11))))
    room = WindowRoom(
        windows=chance.randint(1, 5), rests=chance.random() < 0.5, midnight=MIDNIGHT if chance.random() < 0.5 else None
    )
    if room.midnight is not None:
        given = split_at(given, MIDNIGHT)
    needed = chance.choice([0, 1, 30, 45, 60, 90, 100, 150, 200, 2000])
    now = EVENING + timedelta(minutes=chance.choice([0, 0, 1, 14]))
    assert as_times(cheapest_runs(given, needed, room, now), given) == chosen_by_trying_all(given, needed, room, now)


def test_a_dear_time_between_two_cheap_ones_is_bridged_where_there_is_one_window() -> None:
    """Picking the cheapest time first would begin with 00:00 and never come back: worked out by hand."""
    given = half_hours(0.12, 0.12, 0.12, 0.40, 0.05, 0.40, 0.40)
    # 90 minutes: 0.36 for the first three; with 00:00 in it, 0.40 + 0.12 + 0.05 at the least.
    assert shown(cheapest_runs(given, 90, WindowRoom(windows=1), EVENING)) == ["22:00-23:30"]
    assert shown(cheapest_runs(given, 90, WindowRoom(windows=2), EVENING)) == ["22:30-23:30", "00:00-00:30"]


def test_of_equal_choices_the_one_with_fewer_windows_and_then_the_latest_is_taken() -> None:
    given = half_hours(0.10, 0.25, 0.10, 0.10, 0.25, 0.10, 0.10)
    assert shown(cheapest_runs(given, 60, WindowRoom(windows=3), EVENING)) == ["00:30-01:30"]


def test_what_is_left_of_the_present_time_counts() -> None:
    given = half_hours(0.10, 0.20, 0.30)
    now = EVENING + timedelta(minutes=25, seconds=20)
    # 4 whole minutes are left of the first.
    assert shown(cheapest_runs(given, 30, WindowRoom(windows=2), now)) == ["22:30-23:00"]
    assert shown(cheapest_runs(given, 34, WindowRoom(windows=2), now)) == ["22:00-23:00"]


def test_a_need_that_no_time_is_left_for_takes_all_of_it() -> None:
    given = half_hours(0.40, 0.10, 0.40)
    assert shown(cheapest_runs(given, 1000, WindowRoom(windows=1), EVENING)) == ["22:00-23:30"]
    assert cheapest_runs(given, 0, WindowRoom(windows=1), EVENING) == []
    assert cheapest_runs([], 60, WindowRoom(windows=1), EVENING) == []


def test_a_day_of_quarter_hours_is_no_long_calculation() -> None:
    """88 times, 4 windows, and half of the day needed: as many states as a house has at most. The optimum is checked by its price."""
    chance = random.Random(1)
    given = times(*((15, chance.choice([0.1, 0.2, 0.3])) for _ in range(88)))
    found = as_times(cheapest_runs(given, 44 * 15, WindowRoom(windows=88), EVENING), given)
    assert sorted(one.buy for one in found) == sorted(one.buy for one in given)[:44], (
        "without a limit: the cheapest ones"
    )
    few = cheapest_runs(given, 44 * 15, WindowRoom(windows=4), EVENING)
    assert len(few) <= 4
    assert sum(one.buy for one in as_times(few, given)) >= sum(one.buy for one in found)
