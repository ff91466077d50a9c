"""Dated prices in a list of rows, or in a mapping from times to prices, as sensors and actions of other integrations give them."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from datetime import datetime
from typing import Any

from homeassistant.util import dt as dt_util

from ..core.planning import DatedPrice
from .entity_prices import PriceNames, PriceRow, PricesUnreadable, price_row, with_ends


def listed_prices(found: object, names: PriceNames, *, sell: float = 0.0) -> list[DatedPrice]:
    """Return the prices by their start, in UTC, none over another; what cannot be read is left out.

    Times may be seconds since 1970. `sell` is the feed-in price of rows that have none.
    """
    rows = list(_readable(_rows(found, names), names, sell))
    with suppress(PricesUnreadable):
        return list(_one_at_a_time(with_ends("", rows, names)))
    return []


def known_until(prices: Sequence[DatedPrice], now: datetime) -> datetime:
    """Return until when the prices are known from `now` on without a gap; `now` itself where there is none."""
    until = now
    for price in prices:
        if price.start <= until < price.end:
            until = price.end
    return until


def _rows(found: object, names: PriceNames) -> Iterator[Mapping[str, Any]]:
    if isinstance(found, Mapping):
        yield from ({names.start: start, names.buy: price} for start, price in found.items())
    elif isinstance(found, list | tuple):
        yield from (row for row in found if isinstance(row, Mapping))


def _readable(rows: Iterable[Mapping[str, Any]], names: PriceNames, sell: float) -> Iterator[PriceRow]:
    for row in rows:
        times = {key: _moment(row[key]) for key in (names.start, names.end) if row.get(key) not in (None, "")}
        # A time of the right form may still be none, such as the 30th of February.
        with suppress(ValueError, OverflowError):
            yield price_row("", {**row, names.end: None, **times}, names, sell=sell)


def _moment(value: object) -> object:
    """Return seconds since 1970 as a moment; anything else as it is."""
    with suppress(TypeError, ValueError, OverflowError):
        return value if isinstance(value, datetime) else dt_util.utc_from_timestamp(float(str(value)))
    return value


def _one_at_a_time(prices: Iterable[DatedPrice]) -> Iterator[DatedPrice]:
    ended: datetime | None = None
    for price in prices:
        if price.start < price.end and (ended is None or price.start >= ended):
            ended = price.end
            yield price
