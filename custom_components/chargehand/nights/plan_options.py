"""What a plan takes from an entry's options: the battery and the tariff."""

from collections.abc import Mapping
from datetime import time
from typing import Any

from ..core.planning import Band, Battery, Days, Keeps, Tariff

BATTERY = "battery"
TARIFF = "tariff"
"""Where the two are kept in an entry's options."""

LOAD_SENSOR = "load_sensor"
SOLAR_SENSOR = "solar_sensor"
OUTDOOR_SENSOR = "outdoor_sensor"
WEATHER = "weather"
FALLBACK_LEVEL = "fallback_level"


def battery_of(options: Mapping[str, Any], **changed: float) -> Battery:
    """Return the battery of these options, with some figures of one request instead. Raises BadBattery."""
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
    """Return the tariff of these options. Raises BadTariff, and ValueError for what is no time."""
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
