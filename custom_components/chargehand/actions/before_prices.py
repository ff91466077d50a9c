"""The prices that a charge before expensive hours goes by: handed in with the action, or a sensor's."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from homeassistant.const import STATE_UNAVAILABLE, STATE_UNKNOWN
from homeassistant.core import HomeAssistant

from ..core.planning import DatedPrice
from ..house import PriceNames, known_until, listed_prices
from ..messages import moment_text, text
from .failures import refused

NEEDS_HOUSE = {
    "before_no_sensor",
    "before_no_state",
    "before_no_rows",
    "before_none_given",
    "before_no_price_now",
    "before_prices_end",
    "before_no_level",
}
"""Errors of an order that waits for the house's prices, or for the battery's level."""

PRICE_NAMES = ("price_attribute", "key_start", "key_end", "key_price")
"""Fields that an order keeps also where they are empty: nothing is found by them then, and the answer says so."""

GIVEN = "given"
"""The prices that were handed in, as an order keeps them."""


def price_names(asked: Mapping[str, Any]) -> PriceNames:
    """Return what the sensor's attribute and its keys are called."""
    return PriceNames(
        lists=(asked["price_attribute"],),
        start=asked["key_start"],
        end=asked["key_end"],
        buy=asked["key_price"],
        factor=asked["factor"],
    )


def given_prices(data: Mapping[str, Any]) -> list[dict[str, Any]] | None:
    """Return the prices that were handed in as data; none of them where they cannot be read, None where none were."""
    if not data.get("prices"):
        return None
    prices = listed_prices(data["prices"], price_names(data), sell=data["sell"])
    return [
        {"start": one.start.isoformat(), "end": one.end.isoformat(), "buy": one.buy, "sell": one.sell} for one in prices
    ]


def prices_at(hass: HomeAssistant, asked: Mapping[str, Any]) -> list[DatedPrice]:
    """Return the prices as they are known now; none where they cannot be read."""
    if asked[GIVEN] is not None:
        return listed_prices(asked[GIVEN], PriceNames())
    state = hass.states.get(asked["price_sensor"]) if "price_sensor" in asked else None
    found = None if state is None else state.attributes.get(asked["price_attribute"])
    return listed_prices(found, price_names(asked), sell=asked["sell"])


def prices_before(hass: HomeAssistant, asked: Mapping[str, Any], now: datetime, begins: datetime) -> list[DatedPrice]:
    """Return the prices, known without a gap until the hours begin. Raises ServiceValidationError where they are not."""
    prices = prices_at(hass, asked)
    entity_id = asked.get("price_sensor") if asked[GIVEN] is None else None
    if not prices:
        _raise_for_none(hass, entity_id)
    known = known_until(prices, now)
    if known >= begins:
        return prices
    if known == now:
        source = entity_id or text("before_source")
        raise refused("before_no_price_now", source=source)
    raise refused("before_prices_end", until=moment_text(known), begins=moment_text(begins))


def _raise_for_none(hass: HomeAssistant, entity_id: str | None) -> None:
    if entity_id is None:
        raise refused("before_none_given")
    state = hass.states.get(entity_id)
    if state is None:
        raise refused("before_no_sensor", entity=entity_id)
    if state.state in {STATE_UNAVAILABLE, STATE_UNKNOWN}:
        raise refused("before_no_state", entity=entity_id, state=state.state)
    raise refused("before_no_rows", entity=entity_id)
