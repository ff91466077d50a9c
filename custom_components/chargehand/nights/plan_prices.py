"""The prices that a plan is made with: those handed in, else an entity's over the tariff, else the tariff's."""

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime, timedelta
from enum import StrEnum
from typing import Any

from homeassistant.core import HomeAssistant
from homeassistant.util import dt as dt_util

from ..core.planning import DatedPrice, Horizon, Prices, dated_over_tariff, dated_prices
from ..house import PRICE_SENSOR, entity_prices
from .plan_options import TARIFF, tariff_of


class PricesFrom(StrEnum):
    """Where the prices of a horizon are from."""

    GIVEN = "given"
    ENTITY = "entity"
    TARIFF = "tariff"
    ENTITY_AND_TARIFF = "entity_and_tariff"
    ENTITY_AND_DAY_BEFORE = "entity_and_day_before"


def prices_at_hand(hass: HomeAssistant, options: Mapping[str, Any], asked: Mapping[str, Any]) -> list[DatedPrice]:
    """Dated prices of the request, else of the options' entity, as it is now; none where neither is. Raises PricesUnreadable."""
    if "prices" in asked:
        return [DatedPrice(**_aware(price)) for price in asked["prices"]]
    tariff = options[TARIFF]
    return entity_prices(hass, tariff) if tariff.get(PRICE_SENSOR) else []


def hours_known(dated: Sequence[DatedPrice], now: datetime) -> float:
    """Return for how many hours from a plan's first step on there are prices, in whole steps."""
    first = Horizon(start=now)
    # In UTC: a night in which the clock is moved is an hour longer or shorter.
    ahead = max(price.end for price in dated).astimezone(UTC) - first.start.astimezone(UTC)
    return ahead // timedelta(minutes=first.step_minutes) * first.step_hours


def horizon_prices(
    dated: Sequence[DatedPrice], options: Mapping[str, Any], asked: Mapping[str, Any], horizon: Horizon
) -> tuple[Prices, dict[str, Any]]:
    """Return the price of every step, and what the answer says of where they are from. Raises BadTariff, PriceGap, ValueError."""
    if "prices" in asked:
        return dated_prices(dated, horizon), _basis(PricesFrom.GIVEN, horizon.hours)
    tariff = tariff_of(options[TARIFF])
    prices, hours = dated_over_tariff(dated, tariff, horizon)
    if not hours:
        return prices, _basis(PricesFrom.TARIFF, 0)
    if hours >= horizon.steps * horizon.step_hours:
        return prices, _basis(PricesFrom.ENTITY, hours)
    return prices, _basis(PricesFrom.ENTITY_AND_TARIFF if tariff.bands else PricesFrom.ENTITY_AND_DAY_BEFORE, hours)


def _basis(prices: PricesFrom, hours: float) -> dict[str, Any]:
    return {"prices": str(prices), "dated_hours": round(hours, 2)}


def _aware(price: Mapping[str, Any]) -> dict[str, Any]:
    """Return a price whose times without a zone are the house's."""
    zone = dt_util.get_default_time_zone()
    return {
        **price,
        **{
            end: price[end].replace(tzinfo=zone) if price[end].tzinfo is None else price[end].astimezone(zone)
            for end in ("start", "end")
        },
    }
