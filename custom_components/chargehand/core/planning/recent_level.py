"""How much a house uses now, beside what it used before: guests and holidays pass, a new tenant stays.

Earlier days are scaled to the level of the last three, as far as those lie outside of what days differ by anyway. After a jump that lasts, the
days before it are brought to the level since: those of each level by themselves.
"""

from itertools import pairwise
from math import log, sqrt

import numpy as np

from .tariff import Floats

RECENT_DAYS = 3
SHRINK = 6.0
"""With the last days off by t of what chance would make of them, t^2 / (t^2 + SHRINK) of their difference counts."""
MOST_TIMES = 3.0
JUMP_DAYS = 4
"""So many days that are all unlike those before are another level."""
JUMP_SPREADS, JUMP_TIMES = 3.0, 1.6
"""They are unlike when they are off by so many times what days differ by, and are so many times as much or as little."""
_LEAST_SPREAD, _LEAST_KWH = 0.15, 0.05


def level_factors(kwh: Floats, weights: Floats) -> Floats:
    """Return (days): by what each day is multiplied to be like a day of now.

    `kwh` (days) are the days' energies, oldest first, less what their kind and the weather explain; `weights` how much each counts.
    """
    factors = np.ones(len(kwh))
    edges = [0, *_jumps(kwh), len(kwh)]
    for begin, end in pairwise(edges[:-1]):
        factors[begin:end] = kwh[edges[-2] :].mean() / max(float(kwh[begin:end].mean()), _LEAST_KWH)
    scaled = kwh * factors
    earlier, last = slice(0, len(kwh) - RECENT_DAYS), slice(len(kwh) - RECENT_DAYS, len(kwh))
    usual = RECENT_DAYS * float(weights[earlier] @ scaled[earlier] / weights[earlier].sum())
    logs = np.log(np.maximum(scaled, _LEAST_KWH))
    times = float(np.log(max(scaled[last].sum(), _LEAST_KWH) / max(usual, _LEAST_KWH)))
    by_chance = max(float(logs[earlier].std()), _LEAST_SPREAD) / sqrt(RECENT_DAYS)
    off = (times / by_chance) ** 2
    factors[earlier] *= np.exp(np.clip(times * off / (off + SHRINK), -log(MOST_TIMES), log(MOST_TIMES)))
    return factors


def _jumps(kwh: Floats) -> list[int]:
    """Return at which days another level begins."""
    logs = np.log(np.maximum(kwh, _LEAST_KWH))
    found, begin = list[int](), 0
    for now in range(2 * JUMP_DAYS, len(kwh) + 1):
        earlier, last = logs[begin : now - JUMP_DAYS], logs[now - JUMP_DAYS : now]
        if len(earlier) < JUMP_DAYS:
            continue
        middle = float(np.median(earlier))
        # Of a normal distribution, the median of what is off is 1 / 1.4826 of the spread.
        spread = max(1.4826 * float(np.median(np.abs(earlier - middle))), _LEAST_SPREAD)
        off = float((last - middle).mean())
        one_way = (last > middle).all() or (last < middle).all()
        if one_way and abs(off) > JUMP_SPREADS * spread and abs(float(np.median(last)) - middle) > log(JUMP_TIMES):
            begin = now - JUMP_DAYS
            found.append(begin)
    return found
