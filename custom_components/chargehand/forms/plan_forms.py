"""The battery and the tariff as forms, and the checks of what was entered."""

from collections.abc import Mapping
from typing import Any

import voluptuous as vol
from homeassistant.components.sensor import ATTR_STATE_CLASS
from homeassistant.core import HomeAssistant
from homeassistant.data_entry_flow import section
from homeassistant.helpers import selector
from homeassistant.util import dt as dt_util

from ..core.planning import Days, Horizon, Keeps, dated_over_tariff, tariff_prices
from ..house import PRICE_NAMES, PRICE_SENSOR, UNAVAILABLE, PriceNames, PricesUnreadable, entity_prices
from ..messages import planning_text, text
from ..nights import FALLBACK_LEVEL, LOAD_SENSOR, OUTDOOR_SENSOR, SOLAR_SENSOR, WEATHER, battery_of, tariff_of
from .fields import box, price_box

_ENERGY = selector.EntitySelector(selector.EntitySelectorConfig(domain="sensor", device_class="energy"))
_TEMPERATURE = selector.EntitySelector(selector.EntitySelectorConfig(domain="sensor", device_class="temperature"))
_WEATHER = selector.EntitySelector(selector.EntitySelectorConfig(domain="weather"))

BATTERY_SCHEMA = vol.Schema(
    {
        vol.Required("capacity_kwh", default=10): box(0.5, 1000, "kWh", step=0.1),
        vol.Required("charge_kw", default=3): box(0.1, 500, "kW", step=0.1),
        vol.Required("discharge_kw", default=3): box(0.1, 500, "kW", step=0.1),
        vol.Required("charge_efficiency", default=94): box(50, 100, "%", step=0.5),
        vol.Required("discharge_efficiency", default=94): box(50, 100, "%", step=0.5),
        vol.Required("reserve_level", default=10): box(0, 99, "%"),
        vol.Required("highest_level", default=100): box(1, 100, "%"),
        vol.Required("wear", default=0): box(0, 10, step="any"),
        vol.Required(FALLBACK_LEVEL, default=90): box(1, 100, "%"),
        vol.Optional(LOAD_SENSOR): _ENERGY,
        vol.Optional(SOLAR_SENSOR): _ENERGY,
        vol.Optional(OUTDOOR_SENSOR): _TEMPERATURE,
        vol.Optional(WEATHER): _WEATHER,
    }
)

_NAMES = PriceNames()

_PRICE_NAMES_SCHEMA = vol.Schema(
    {
        vol.Optional("lists", default=list(_NAMES.lists)): selector.TextSelector(
            selector.TextSelectorConfig(multiple=True)
        ),
        vol.Optional("start", default=_NAMES.start): selector.TextSelector(),
        vol.Optional("end", default=_NAMES.end): selector.TextSelector(),
        vol.Optional("buy", default=_NAMES.buy): selector.TextSelector(),
        vol.Optional("sell", default=_NAMES.sell): selector.TextSelector(),
        vol.Optional("factor", default=_NAMES.factor): box(0.000001, 1000, step="any"),
    }
)

_DAYS = [
    {"value": str(Days.EVERY_DAY), "label": "Every day"},
    {"value": str(Days.WORKDAYS), "label": "Monday to Friday"},
    {"value": str(Days.WEEKEND), "label": "Saturday and Sunday"},
]
"""With labels: the page does not translate what is inside of a list's form."""


def tariff_schema(currency: str) -> vol.Schema:
    """Return the form of the tariff, with prices in a currency.

    The list names no label field, so the page shows all of a band in its row: hours, price, days.
    """
    unit = f"{currency}/kWh"
    band_price = {"max": 1000, "step": "any", "mode": "box", "unit_of_measurement": unit}
    return vol.Schema(
        {
            vol.Required("buy", default=0.3): price_box(currency),
            vol.Required("sell", default=0): price_box(currency),
            vol.Optional("bands", default=list): selector.ObjectSelector(
                selector.ObjectSelectorConfig(
                    multiple=True,
                    translation_key="bands",
                    fields={
                        "start": {"required": True, "selector": {"time": {}}},
                        "end": {"required": True, "selector": {"time": {}}},
                        # The page fills a required number with its lowest one: a price must not be that.
                        "buy": {"required": True, "selector": {"number": band_price}},
                        "days": {"selector": {"select": {"options": _DAYS, "translation_key": "days"}}},
                    },
                )
            ),
            vol.Required("keeps", default=str(Keeps.LOCAL)): selector.SelectSelector(
                selector.SelectSelectorConfig(options=[str(keeps) for keeps in Keeps], translation_key="keeps")
            ),
            vol.Optional(PRICE_SENSOR): selector.EntitySelector(selector.EntitySelectorConfig(domain="sensor")),
            vol.Optional(PRICE_NAMES): section(_PRICE_NAMES_SCHEMA, {"collapsed": True}),
        }
    )


class FieldRejected(ValueError):
    """What one field of a form holds cannot be used; `key` is the form's error, and the text is its detail."""

    def __init__(self, field: str, key: str, detail: str) -> None:
        """Keep which field and which error."""
        super().__init__(detail)
        self.field = field
        self.key = key


def checked_battery(hass: HomeAssistant, options: Mapping[str, Any]) -> None:
    """Raise FieldRejected for a sensor that has no history to learn from, and as `battery_of`."""
    battery_of(options)
    for field in (LOAD_SENSOR, SOLAR_SENSOR, OUTDOOR_SENSOR):
        if (entity_id := options.get(field)) is None:
            continue
        state = hass.states.get(entity_id)
        if state is None:
            raise FieldRejected(field, "no_such_entity", entity_id)
        if ATTR_STATE_CLASS not in state.attributes:
            raise FieldRejected(field, "no_statistics", entity_id)
    if WEATHER in options and OUTDOOR_SENSOR not in options:
        raise FieldRejected(OUTDOOR_SENSOR, "weather_alone", options[WEATHER])


def checked_tariff(hass: HomeAssistant, options: Mapping[str, Any]) -> None:
    """Raise FieldRejected for an entity whose prices cannot be read, and as `tariff_of` where its week cannot be priced."""
    tariff, horizon = tariff_of(options), Horizon(start=dt_util.now())
    tariff_prices(tariff, horizon)
    if not options.get(PRICE_SENSOR):
        return
    try:
        dated_over_tariff(entity_prices(hass, options), tariff, horizon)
    except PricesUnreadable as fault:
        # An entity that is away for the moment may be stored: the plan says so when it is still away then.
        if fault.key != UNAVAILABLE:
            detail = text(fault.key, **fault.values)
            raise FieldRejected(PRICE_SENSOR, "prices_rejected", detail) from fault
    except ValueError as fault:
        raise FieldRejected(PRICE_SENSOR, "prices_rejected", planning_text(fault)) from fault
