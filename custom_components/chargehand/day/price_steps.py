"""The prices over the band, as far as they are known: the entity's, and the tariff's where its bands say what a time costs."""

from collections.abc import Hashable, Iterable, Iterator, Sequence
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Any

from ..core.planning import MOST_HOURS, DatedPrice, Horizon, Tariff, tariff_prices
from ..house import PRICE_SENSOR, PricesUnreadable
from ..nights import TARIFF, prices_at_hand, tariff_of
from .band import Band
from .day_facts import DayFacts

STEP_MINUTES = 5


def prices_made_of(facts: DayFacts) -> Hashable:
    """Return what the prices go by: the band, the options, and the entity's state."""
    tariff = facts.entry.options.get(TARIFF, {})
    state = facts.hass.states.get(tariff.get(PRICE_SENSOR, ""))
    return facts.band, repr(tariff), None if state is None else state.last_updated


async def prices(facts: DayFacts) -> list[dict[str, Any]]:
    """Return each price from its start to its end, per kWh; none where none is known."""
    options = facts.entry.options
    if TARIFF not in options:
        return []
    try:
        dated = prices_at_hand(facts.hass, options, {})
    except PricesUnreadable:
        # The plan says why; what the tariff says still holds.
        dated = []
    by_entity = bool(options[TARIFF].get(PRICE_SENSOR))
    try:
        tariff = tariff_of(options[TARIFF])
        found = await facts.hass.async_add_executor_job(known_prices, tariff, dated, facts.band, by_entity)
    except ValueError:
        return []
    sells = by_entity or "sell" in options[TARIFF]
    return [
        {
            "start": one.start.isoformat(),
            "end": one.end.isoformat(),
            "buy": round(one.buy, 5),
            "sell": round(one.sell, 5) if sells else None,
        }
        for one in found
    ]


def known_prices(tariff: Tariff, dated: Sequence[DatedPrice], band: Band, by_entity: bool) -> list[DatedPrice]:
    """Return the prices known over the band, in order, neighbours of one price as one. Raises BadTariff.

    A tariff without bands beside an entity's prices says nothing of times that the entity does not know.
    """
    given = list(_within(dated, band))
    fills = bool(tariff.bands) or not by_entity
    rest = _between(_of_tariff(tariff, band), given) if fills else ()
    return list(_joined(sorted([*given, *rest], key=lambda one: one.start)))


def _within(dated: Iterable[DatedPrice], band: Band) -> Iterator[DatedPrice]:
    for one in dated:
        start, end = max(one.start, band.start), min(one.end, band.end)
        if start < end:
            yield DatedPrice(start=start, end=end, buy=one.buy, sell=one.sell)


def _of_tariff(tariff: Tariff, band: Band) -> Iterator[DatedPrice]:
    """Yield the tariff's price of every step of the band."""
    at, step = band.start, timedelta(minutes=STEP_MINUTES)
    while at < band.end:
        horizon = Horizon(start=at.astimezone(band.zone), hours=MOST_HOURS, step_minutes=STEP_MINUTES)
        priced = tariff_prices(tariff, horizon)
        for buy, sell in zip(priced.buy.tolist(), priced.sell.tolist(), strict=True):
            if at < band.end:
                yield DatedPrice(start=at, end=min(at + step, band.end), buy=buy, sell=sell)
            at += step


def _between(steps: Iterable[DatedPrice], given: Sequence[DatedPrice]) -> Iterator[DatedPrice]:
    """Yield the steps as far as no given price covers them."""
    edges: set[datetime] = {edge for one in given for edge in (one.start, one.end)}
    for step in steps:
        cuts = sorted({step.start, step.end, *(edge for edge in edges if step.start < edge < step.end)})
        for start, end in pairwise(cuts):
            if not any(one.start <= start < one.end for one in given):
                yield DatedPrice(start=start, end=end, buy=step.buy, sell=step.sell)


def _joined(prices_: Iterable[DatedPrice]) -> Iterator[DatedPrice]:
    before: DatedPrice | None = None
    for one in prices_:
        if before is not None and before.end == one.start and (before.buy, before.sell) == (one.buy, one.sell):
            before = DatedPrice(start=before.start, end=one.end, buy=one.buy, sell=one.sell)
            continue
        if before is not None:
            yield before
        before = one
    if before is not None:
        yield before
