"""What is known on an evening of the year: history, forecasts, and prices as far as they are published."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from custom_components.chargehand.core.planning import DatedPrice, Hour
from tests.benchmarks.houses.calendar import (
    BEGIN,
    EARLIER,
    FIRST,
    HALF_HOUR,
    Floats,
    day_number,
    day_of_each,
    half_hours,
    place,
)
from tests.benchmarks.houses.course import Course
from tests.benchmarks.houses.house import House

HOUR = timedelta(hours=1)
TOLD_HOURS = 48
"""So far the weather service looks ahead."""
PUBLISHED = 14
"""The hour at which the prices of the next day are published (common practice, no source)."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Evening:
    """At an aware moment: the level in %, hours of the load before, hours of the roof predicted, and pairs of predicted and actual kWh."""

    start: datetime
    level: float
    history: Sequence[Hour]
    outdoor: dict[datetime, float] | None
    forecast: dict[datetime, float]
    pairs: Sequence[tuple[float, float]]
    prices: Sequence[DatedPrice]
    """Those of the market; none where a tariff has them."""


def evening(house: House, over: Course, day: int, level: float) -> Evening:
    """What is known on the evening of a day counted from BEGIN's."""
    start = BEGIN + timedelta(days=day)
    return Evening(
        start=start,
        level=float(round(level)),
        history=_history(over, start),
        outdoor=_outdoor(over, start) if house.heat_kwh else None,
        forecast=_forecast(over, start) if over.clear.any() else {},
        pairs=_pairs(over, start) if over.clear.any() else (),
        prices=_prices(over, start) if house.half_hourly is not None else (),
    )


def _history(over: Course, start: datetime) -> list[Hour]:
    last = place(start)
    first = last - (EARLIER - 1) * 48
    first -= first % 2
    first = max(first, 0)
    sums = over.load[first : last - last % 2].reshape(-1, 2).sum(axis=1)
    begun = FIRST + first * HALF_HOUR
    return [(begun + at * HOUR, float(kwh)) for at, kwh in enumerate(sums)]


def _outdoor(over: Course, start: datetime) -> dict[datetime, float]:
    last = place(start)
    first = max(last - EARLIER * 48, 0)
    span = slice(first - first % 2, last + 96)
    hours = over.celsius[span].reshape(-1, 2).mean(axis=1)
    begun = FIRST + span.start * HALF_HOUR
    error = over.felt[day_number(start.date())]
    return {
        begun + at * HOUR: float(celsius + error * (begun + at * HOUR >= start)) for at, celsius in enumerate(hours)
    }


_DAYS: Floats = day_of_each()
_CLOCK = half_hours()


def _forecast(over: Course, start: datetime) -> dict[datetime, float]:
    """The coming hours as predicted: a clear day's shape, and a day's energy that errs. Which hours will be cloudy is not known."""
    first, today = place(start), day_number(start.date())
    forecast = {}
    for at in range(TOLD_HOURS):
        span = slice(first + 2 * at, first + 2 * at + 2)
        day = int(_DAYS[first + 2 * at])
        most = over.clear_days[day]
        share = over.predicted[min(day - today, 2), day] / most if most else 0.0
        forecast[start.astimezone(UTC) + at * HOUR] = float(over.clear[span].sum() * share)
    return forecast


def _pairs(over: Course, start: datetime) -> list[tuple[float, float]]:
    """For each day that is over, what was predicted the evening before, and what came."""
    today = day_number(start.date())
    return [(float(over.predicted[1, day]), float(over.actual[day])) for day in range(max(today - EARLIER, 2), today)]


def _prices(over: Course, start: datetime) -> list[DatedPrice]:
    """To the next midnight, and to the one after it once tomorrow's are published."""
    ahead = 2 if start.hour >= PUBLISHED else 1
    midnight = datetime.combine(start.date() + timedelta(days=ahead), datetime.min.time(), start.tzinfo)
    return [
        DatedPrice(
            start=FIRST + at * HALF_HOUR,
            end=FIRST + (at + 1) * HALF_HOUR,
            buy=float(over.buy[at]),
            sell=float(over.sell[at]),
        )
        for at in range(place(start), place(midnight))
    ]
