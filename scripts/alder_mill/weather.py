"""What Alder Mill uses and what its roof gives, every five minutes: invented, the same at every start, winter-like at any time of the year."""

import math
from datetime import UTC, date, datetime, timedelta
from functools import cache
from random import Random
from zoneinfo import ZoneInfo

ZONE = ZoneInfo("Europe/London")
STEP = timedelta(minutes=5)

SEED = "Alder Mill"
SUNRISE_H, SUNSET_H = 7.6, 16.1
"""In UTC, as in the middle of November at 51.5 degrees north (from memory)."""

BEST_W = 2900.0
"""From the roof at noon of a clear day."""

LOAD_W = (
    *(190.0, 170.0, 160.0, 160.0, 170.0, 200.0, 310.0, 520.0, 430.0, 320.0, 280.0, 290.0),
    *(380.0, 310.0, 280.0, 310.0, 450.0, 700.0, 860.0, 740.0, 560.0, 430.0, 310.0, 220.0),
)
"""Of a workday, by the hour of the house's clock."""

AT_HOME_W = 240.0
"""More from 09:00 to 17:00 of a Saturday or Sunday."""

KETTLE_W = 2100.0


def powers(moment: datetime) -> tuple[float, float]:
    """Return load and solar power in W for the five minutes in which an aware moment lies."""
    step = int(moment.timestamp() // STEP.total_seconds())
    chance = Random(f"{SEED} {step}")
    return _load(moment.astimezone(ZONE), chance), _solar(moment.astimezone(UTC), chance)


def _load(local: datetime, chance: Random) -> float:
    needs, _ = _day(local.date())
    watts = LOAD_W[local.hour] * needs
    if local.weekday() >= 5 and 9 <= local.hour < 17:
        watts += AT_HOME_W
    watts *= chance.uniform(0.85, 1.15)
    boils = 6 <= local.hour < 23 and chance.random() < 0.03
    return round(watts + (KETTLE_W if boils else 0.0))


def _solar(utc: datetime, chance: Random) -> float:
    _, clear = _day(utc.date())
    hour = utc.hour + utc.minute / 60
    if not SUNRISE_H <= hour < SUNSET_H:
        return 0.0
    height = math.sin(math.pi * (hour - SUNRISE_H) / (SUNSET_H - SUNRISE_H))
    return round(BEST_W * clear * height**1.5 * chance.uniform(0.75, 1.1))


@cache
def _day(day: date) -> tuple[float, float]:
    """Return how much a day needs of what others do, and how clear its sky is, 0 to 1."""
    chance = Random(f"{SEED} {day}")
    return chance.uniform(0.85, 1.15), chance.choice((0.1, 0.15, 0.2, 0.3, 0.4, 0.6, 0.9))
