"""Dated prices as an entity shows them: lists in its attributes, each row with a start, a price, and what else it has."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import isfinite
from typing import Any

from homeassistant.const import STATE_UNAVAILABLE
from homeassistant.core import HomeAssistant
from homeassistant.util import dt as dt_util

from ..core.planning import DatedPrice

PRICE_SENSOR = "price_sensor"
PRICE_NAMES = "price_names"
"""Keys of the tariff's options: the entity, and what its lists and their keys are called."""

UNAVAILABLE = "prices_unavailable"
"""The message of an entity that is there but shows nothing for the moment."""
NOTHING = "–"


class PricesUnreadable(ValueError):
    """An entity's prices cannot be read; `key` and `values` make the message."""

    def __init__(self, key: str, **values: object) -> None:
        """Keep what the message is made of."""
        self.key = key
        self.values = {name: str(value) for name, value in values.items()}
        super().__init__(self.key, self.values)


@dataclass(frozen=True, kw_only=True, slots=True)
class PriceNames:
    """Attributes that hold the lists, the keys in their rows, and how many units of the currency a price of 1 is."""

    lists: tuple[str, ...] = ("prices",)
    start: str = "start"
    end: str = "end"
    buy: str = "buy"
    sell: str = "sell"
    factor: float = 1.0

    @classmethod
    def of(cls, options: Mapping[str, Any]) -> PriceNames:
        """As filled in; what was left empty is called as it is here."""
        lists = tuple(filter(None, (name.strip() for name in options.get("lists", ()))))
        texts = {key: options.get(key, "").strip() for key in ("start", "end", "buy", "sell")}
        given = {"lists": lists, **texts, "factor": float(options.get("factor", 1))}
        return cls(**{key: value for key, value in given.items() if value})


@dataclass(frozen=True, kw_only=True, slots=True)
class PriceRow:
    """What a row says; `end` is None where that is left to the next one's start."""

    start: datetime
    end: datetime | None
    buy: float
    sell: float


def entity_prices(hass: HomeAssistant, tariff: Mapping[str, Any]) -> list[DatedPrice]:
    """Return the prices of the entity that the tariff's options name, by their start. Raises PricesUnreadable."""
    entity_id = tariff[PRICE_SENSOR]
    state = hass.states.get(entity_id)
    if state is None:
        raise PricesUnreadable("prices_no_entity", entity=entity_id)
    if state.state == STATE_UNAVAILABLE:
        raise PricesUnreadable(UNAVAILABLE, entity=entity_id)
    names = PriceNames.of(tariff.get(PRICE_NAMES, {}))
    listed = _listed(entity_id, state.attributes, names)
    rows = [price_row(entity_id, row, names, sell=float(tariff.get("sell", 0))) for row in listed]
    return list(with_ends(entity_id, rows, names))


def _listed(entity_id: str, attributes: Mapping[str, Any], names: PriceNames) -> Iterator[Mapping[str, Any]]:
    """Yield the rows of all lists. A list that is not there yet, such as tomorrow's, is no fault while another one is."""
    there = {name: attributes[name] for name in names.lists if attributes.get(name) is not None}
    if not there:
        lists = [name for name, value in attributes.items() if isinstance(value, list | tuple)]
        raise PricesUnreadable(
            "prices_no_attribute", entity=entity_id, names=_spelled(names.lists), found=_spelled(lists)
        )
    for name, value in there.items():
        if not isinstance(value, list | tuple):
            raise PricesUnreadable("prices_no_list", entity=entity_id, attribute=name)
        for row in value:
            if not isinstance(row, Mapping):
                raise PricesUnreadable("prices_no_row", entity=entity_id, attribute=name, row=row)
            yield row


def price_row(entity_id: str, row: Mapping[str, Any], names: PriceNames, *, sell: float) -> PriceRow:
    """Return what a row of an entity says; `sell` where it has no feed-in price. Raises PricesUnreadable."""
    for key in (names.start, names.buy):
        if key not in row:
            raise PricesUnreadable("prices_no_key", entity=entity_id, name=key, found=_spelled(map(str, row)))
    return PriceRow(
        start=_time(entity_id, row[names.start]),
        end=None if row.get(names.end) is None else _time(entity_id, row[names.end]),
        buy=_number(entity_id, row, names.start, names.buy) * names.factor,
        sell=sell if row.get(names.sell) is None else _number(entity_id, row, names.start, names.sell) * names.factor,
    )


def _time(entity_id: str, value: object) -> datetime:
    """In UTC; one without a zone is the house's."""
    moment = value if isinstance(value, datetime) else dt_util.parse_datetime(str(value))
    if moment is None:
        raise PricesUnreadable("prices_no_time", entity=entity_id, value=value)
    return dt_util.as_utc(moment)


def _number(entity_id: str, row: Mapping[str, Any], start: str, key: str) -> float:
    value = row[key]
    try:
        number = float("nan") if isinstance(value, bool) else float(value)
    except TypeError, ValueError:
        number = float("nan")
    if not isfinite(number):
        raise PricesUnreadable("prices_no_number", entity=entity_id, start=row[start], name=key, value=value)
    return number


def with_ends(entity_id: str, rows: Iterable[PriceRow], names: PriceNames) -> Iterator[DatedPrice]:
    """Yield each with its end: the next one's start, and the last one is as long as the one before it."""
    # Two lists may share a row.
    ordered = sorted(dict.fromkeys(rows), key=lambda row: row.start)
    length: timedelta | None = None
    for at, row in enumerate(ordered):
        later = next((other.start for other in ordered[at + 1 :] if other.start > row.start), None)
        end = row.end or later or (row.start + length if length is not None else None)
        if end is None:
            raise PricesUnreadable("prices_no_end", entity=entity_id, start=dt_util.as_local(row.start), name=names.end)
        length = end - row.start
        yield DatedPrice(start=row.start, end=end, buy=row.buy, sell=row.sell)


def _spelled(names: Iterable[str]) -> str:
    return ", ".join(names) or NOTHING
