"""What Home Assistant knows that a plan needs: history, energy sources, prices, weather."""

from .energy_sources import KnownFrom, dashboard_knows, dashboard_prices, known_load, known_solar
from .entity_prices import PRICE_NAMES, PRICE_SENSOR, UNAVAILABLE, PriceNames, PricesUnreadable, entity_prices
from .listed_prices import known_until, listed_prices
from .statistics import five_minute_means, is_dark, solar_forecast
from .weather import ComingFrom, Outdoor, outdoor_temperatures

__all__ = [
    "PRICE_NAMES",
    "PRICE_SENSOR",
    "UNAVAILABLE",
    "ComingFrom",
    "KnownFrom",
    "Outdoor",
    "PriceNames",
    "PricesUnreadable",
    "dashboard_knows",
    "dashboard_prices",
    "entity_prices",
    "five_minute_means",
    "is_dark",
    "known_load",
    "known_solar",
    "known_until",
    "listed_prices",
    "outdoor_temperatures",
    "solar_forecast",
]
