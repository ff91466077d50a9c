"""The options that a plan needs: the battery and the tariff, as forms and as what the plan takes."""

from collections.abc import Mapping
from datetime import time
from typing import Any

import voluptuous as vol
from homeassistant.helpers import selector
from homeassistant.util import dt as dt_util

from .forms import box
from .planning import Band, Battery, Days, Horizon, Keeps, Tariff, tariff_prices

BATTERY = "battery"
TARIFF = "tariff"
"""Where the two are kept in an entry's options."""

LOAD_SENSOR = "load_sensor"
SOLAR_SENSOR = "solar_sensor"
FALLBACK_LEVEL = "fallback_level"


_ENERGY = selector.EntitySelector(selector.EntitySelectorConfig(domain="sensor", device_class="energy"))

BATTERY_SCHEMA = vol.Schema(
    {
        vol.Required("capacity_kwh", default=10): box(0.5, 1000, "kWh", step=0.1),
        vol.Required("charge_kw", default=2.5): box(0.1, 500, "kW", step=0.1),
        vol.Required("discharge_kw", default=2.5): box(0.1, 500, "kW", step=0.1),
        vol.Required("charge_efficiency", default=94): box(50, 100, "%", step=0.5),
        vol.Required("discharge_efficiency", default=94): box(50, 100, "%", step=0.5),
        vol.Required("reserve_level", default=10): box(0, 99, "%"),
        vol.Required("highest_level", default=100): box(1, 100, "%"),
        vol.Required("wear", default=0): box(0, 10, step="any"),
        vol.Required(FALLBACK_LEVEL, default=90): box(1, 100, "%"),
        vol.Optional(LOAD_SENSOR): _ENERGY,
        vol.Optional(SOLAR_SENSOR): _ENERGY,
    }
)

_PRICE = box(-100, 1000, step="any")

TARIFF_SCHEMA = vol.Schema(
    {
        vol.Required("buy", default=0.3): _PRICE,
        vol.Required("sell", default=0): _PRICE,
        vol.Optional("bands", default=list): selector.ObjectSelector(
            selector.ObjectSelectorConfig(
                multiple=True,
                label_field="start",
                description_field="end",
                translation_key="bands",
                fields={
                    "start": {"required": True, "selector": {"time": {}}},
                    "end": {"required": True, "selector": {"time": {}}},
                    "buy": {"required": True, "selector": _PRICE.serialize()["selector"]},
                    "days": {
                        "selector": {"select": {"options": [str(days) for days in Days], "translation_key": "days"}}
                    },
                },
            )
        ),
        vol.Required("keeps", default=str(Keeps.LOCAL)): selector.SelectSelector(
            selector.SelectSelectorConfig(options=[str(keeps) for keeps in Keeps], translation_key="keeps")
        ),
    }
)


def battery_of(options: Mapping[str, Any], **changed: float) -> Battery:
    """The battery of these options, with some figures of one request instead. Raises BadBattery."""
    figures = {name: float(options[name]) for name in _FIGURES if name in options}
    for share in ("charge_efficiency", "discharge_efficiency"):
        if share in figures:
            figures[share] /= 100
    return Battery(**(figures | changed))


_FIGURES = (
    "capacity_kwh",
    "charge_kw",
    "discharge_kw",
    "charge_efficiency",
    "discharge_efficiency",
    "reserve_level",
    "highest_level",
    "wear",
)


def tariff_of(options: Mapping[str, Any]) -> Tariff:
    """The tariff of these options. Raises BadTariff, and ValueError for what is no time."""
    return Tariff(
        buy=float(options["buy"]),
        sell=float(options.get("sell", 0)),
        keeps=Keeps(options.get("keeps", Keeps.LOCAL)),
        bands=tuple(
            Band(
                start=time.fromisoformat(band["start"]),
                end=time.fromisoformat(band["end"]),
                buy=float(band["buy"]),
                days=Days(band.get("days", Days.EVERY_DAY)),
            )
            for band in options.get("bands", ())
        ),
    )


def checked_tariff(options: Mapping[str, Any]) -> Tariff:
    """The same, and its week can be priced. Raises as `tariff_of`."""
    tariff = tariff_of(options)
    tariff_prices(tariff, Horizon(start=dt_util.now()))
    return tariff
