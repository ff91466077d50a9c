"""A list of times by its document, played minute by minute, and schedules to try it with. Nothing of Chargehand is imported here.

Six points, "hhmm, 5 min steps, ascending; point n holds until point n+1, point 6 until point 1", with a power in W, a level in % and bit 0 for
charging in each part. Bit 1 of that register is somebody else's. Register 830 has the list on in bit 0 and Monday to Sunday in bits 1 to 7.
"""

import random
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

DAY = 1440
POINTS = 6
ENABLED, TIMES, POWERS, LEVELS, CHARGING = 830, 831, 841, 851, 861
ON_EVERY_DAY = 0b11111111
WIDEST, LOWEST = 4600, 15


class Does(NamedTuple):
    """What the inverter does in a minute."""

    charges: bool
    power: int
    level: int


@dataclass(frozen=True)
class Asked:
    """A window in minutes of the inverter's day; one that ends where it starts lasts the whole day."""

    start: int
    end: int
    power: int
    level: int

    def lasts(self, minute: int) -> bool:
        return (minute - self.start) % DAY < ((self.end - self.start) % DAY or DAY)


def listed(*rows: tuple[int, int, int, int], enabled: int = ON_EVERY_DAY) -> dict[int, int]:
    """The registers of a list: time as hhmm, charging, power, level."""
    assert len(rows) == POINTS
    registers = {ENABLED: enabled}
    for point, (time, charging, power, level) in enumerate(rows):
        registers |= {TIMES + point: time, POWERS + point: power, LEVELS + point: level, CHARGING + point: charging}
    return registers


def play(registers: dict[int, int]) -> list[Does]:
    """What the inverter does in each minute of its day, as the document has it; it takes no list that is not as it says."""
    minutes = []
    for point in range(POINTS):
        time = registers[TIMES + point]
        assert 0 <= time <= 2355
        assert time % 100 < 60
        minutes.append(time // 100 * 60 + time % 100)
        assert 0 <= registers[POWERS + point] <= WIDEST
        assert LOWEST <= registers[LEVELS + point] <= 100
    assert all(minute % 5 == 0 for minute in minutes)
    assert all(minutes[point] < minutes[point + 1] for point in range(POINTS - 1)), minutes
    done = []
    for minute in range(DAY):
        begun = [point for point in range(POINTS) if minutes[point] <= minute]
        holds = begun[-1] if begun else POINTS - 1
        done.append(Does(bool(registers[CHARGING + holds] & 1), registers[POWERS + holds], registers[LEVELS + holds]))
    return done


def wanted(held: dict[int, int], windows: Sequence[Asked]) -> list[Does]:
    """What it is to do: charge in these windows, and in between what the first point did that does not charge."""
    between = Does(False, WIDEST, LOWEST)
    for point in reversed(range(POINTS)):
        if not held[CHARGING + point] & 1:
            between = Does(False, held[POWERS + point], held[LEVELS + point])
    done = [between] * DAY
    for window in windows:
        for minute in range(DAY):
            if window.lasts(minute):
                done[minute] = Does(True, window.power, window.level)
    return done


def turns(done: Sequence[Does]) -> int:
    """How often something else begins in a day."""
    return sum(done[minute] != done[minute - 1] for minute in range(DAY))


def drawn_list(chance: random.Random) -> dict[int, int]:
    """A list as somebody may have left it; now and then one that was never set."""
    if chance.random() < 0.15:
        return listed(*[(0, 0, chance.choice((0, 2000)), chance.choice((15, 50)))] * POINTS)
    times = sorted(chance.sample(range(0, DAY, chance.choice((5, 15, 60))), POINTS))
    often = chance.choice((0.0, 0.3, 0.6, 1.0))
    return listed(
        *(
            (
                time // 60 * 100 + time % 60,
                int(chance.random() < often) | chance.getrandbits(1) << 1,
                chance.choice((4600, 3000, 1500)),
                chance.choice((15, 40, 90)),
            )
            for time in times
        )
    )


def drawn_windows(chance: random.Random) -> list[Asked]:
    """Windows side by side, some of which meet, one perhaps over midnight, in any order; now and then the whole day."""
    if chance.random() < 0.05:
        return [Asked(0, 0, 3000, 90)]
    edges = sorted(chance.sample(range(0, DAY, 5), chance.randint(2, 8)))
    if chance.random() < 0.5:
        edges.append(edges[0])
    spans = list(pairwise(edges))
    kept = [span for span in spans if chance.random() < chance.choice((0.4, 0.6, 1.0))]
    chance.shuffle(kept)
    return [Asked(*span, chance.choice((4600, 2500)), chance.choice((80, 100))) for span in kept[:POINTS]]
