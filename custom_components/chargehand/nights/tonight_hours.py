"""The hours of a night's charge: those that are given, else the cheapest of the tariff."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta
from typing import Any

from homeassistant.core import HomeAssistant
from homeassistant.util import dt as dt_util

from ..core.order import last_shown, next_shown
from ..core.planning import DatedPrice, Horizon, Prices, Tariff, cheapest_time, dated_over_tariff, tariff_prices
from ..house import PRICE_SENSOR, PricesUnreadable
from .plan_options import TARIFF, tariff_of
from .plan_prices import prices_at_hand

LEAST_LEFT = timedelta(minutes=10)
"""A charge that would begin later before the end of its hours is not worth a change of the schedule."""

EARLIER = timedelta(hours=12)
"""How far back to look for the beginning of hours that are cheap now."""

START, END = "start", "end"
EDGES = {START, END}


class NoCheapHours(Exception):
    """Neither hours nor a tariff are known."""


@dataclass(frozen=True, kw_only=True, slots=True)
class TonightHours:
    """The hours to charge in."""

    start: str
    end: str
    """As the house's clock shows them, "HH:MM"."""

    begins: datetime
    ends: datetime
    """The same as moments, in UTC."""


def tonight_hours(
    hass: HomeAssistant, options: Mapping[str, Any], between: Mapping[str, time], now: datetime
) -> TonightHours:
    """Return the hours of the coming night, or those of now where enough of them is left.

    What `between` leaves out is the tariff's. Raises NoCheapHours, and ValueError for a tariff that cannot be used.
    """
    zone = dt_util.get_default_time_zone()
    given = dict(between)
    if not given.keys() >= EDGES:
        begins, ends = (moment.astimezone(zone) for moment in _of_tariff(hass, options, now.astimezone(zone)))
        if not given:
            return _hours(begins, ends, begins.time(), ends.time())
        given = {START: begins.time(), END: ends.time()} | given
    start, end = (given[edge].replace(second=0) for edge in (START, END))
    ends = next_shown(end, now + LEAST_LEFT, zone)
    return _hours(last_shown(start, ends, zone), ends, start, end)


def _hours(begins: datetime, ends: datetime, start: time, end: time) -> TonightHours:
    return TonightHours(
        start=f"{start:%H:%M}", end=f"{end:%H:%M}", begins=begins.astimezone(UTC), ends=ends.astimezone(UTC)
    )


def _of_tariff(hass: HomeAssistant, options: Mapping[str, Any], now: datetime) -> tuple[datetime, datetime]:
    if TARIFF not in options:
        raise NoCheapHours
    tariff = options[TARIFF]
    try:
        # Of a tariff without bands, an entity's prices say which hours are cheap; the plan reports what cannot be read.
        by_entity = tariff.get(PRICE_SENSOR) and not tariff.get("bands")
        dated = prices_at_hand(hass, options, {}) if by_entity else []
    except PricesUnreadable:
        dated = []
    return cheap_hours(tariff_of(tariff), dated, now)


def cheap_hours(tariff: Tariff, dated: Sequence[DatedPrice], now: datetime) -> tuple[datetime, datetime]:
    """Return the cheapest hours of the coming day, aware; those of now where enough of them is left.

    A tariff with bands says which; one without goes by the dated prices. Raises BadTariff.
    """

    def prices(start: datetime) -> Prices:
        horizon = Horizon(start=start)
        return tariff_prices(tariff, horizon) if tariff.bands else dated_over_tariff(dated, tariff, horizon)[0]

    return _coming(prices, now)


def _coming(prices: Callable[[datetime], Prices], now: datetime) -> tuple[datetime, datetime]:
    begins, ends = cheapest_time(prices(now - EARLIER))
    if begins <= now and ends - now > LEAST_LEFT:
        return begins, ends
    begins, ends = cheapest_time(prices(now))
    return (begins, ends) if ends - now > LEAST_LEFT else cheapest_time(prices(ends))
