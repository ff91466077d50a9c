"""The page that shows an inverter which was found: what it may be asked to do, and the night rate, which makes a plan possible at once."""

from collections.abc import Mapping
from typing import Any

import voluptuous as vol
from homeassistant.core import HomeAssistant
from homeassistant.data_entry_flow import section
from homeassistant.helpers import selector
from homeassistant.helpers.translation import async_get_translations

from ..connection import Found, endpoint_of, offset_text, users_text
from ..const import CONF_FRAMING, DEFAULT_FAST_SECONDS, DEFAULT_SLOW_SECONDS, DOMAIN
from ..core.inverter import percent
from ..core.planning import Keeps
from ..core.registers import NO_MAP, RegisterMap
from ..house import dashboard_prices
from ..messages import bullets, map_doubts, schedule_text, sentence, text
from ..nights import BATTERY, TARIFF, battery_of
from .fields import box, control_schema, price_box
from .plan_forms import BATTERY_SCHEMA, FieldRejected, checked_tariff

BLUEPRINTS = "blueprints"
NIGHT_RATE = "night_rate"
NOTHING = "–"

_START, _END, _NIGHT_BUY, _BUY, _SELL = "start", "end", "night_buy", "buy", "sell"
_ASKED = {"capacity_kwh": box(0.5, 1000, "kWh", step=0.1), "charge_kw": box(0.1, 500, "kW", step=0.1)}
"""What a plan cannot do without: asked where the inverter does not report it."""


def found_schema(
    currency: str, register_map: RegisterMap, read: Mapping[str, float], *, blueprints_missing: bool
) -> vol.Schema:
    """Return the form. `read` are the battery options that the inverter reports."""
    schema = control_schema(allowed=False, clock_seconds=0)
    if blueprints_missing:
        schema = schema.extend({vol.Required(BLUEPRINTS, default=True): selector.BooleanSelector()})
    if register_map.schedule is None or not register_map.schedule.charge:
        return schema
    rate = {
        vol.Optional(_START): selector.TimeSelector(),
        vol.Optional(_END): selector.TimeSelector(),
        **{vol.Optional(price): price_box(currency) for price in (_NIGHT_BUY, _BUY, _SELL)},
        **{vol.Optional(figure): field for figure, field in _ASKED.items() if figure not in read},
    }
    return schema.extend({vol.Optional(NIGHT_RATE): section(vol.Schema(rate), {"collapsed": False})})


async def known_rate(hass: HomeAssistant) -> dict[str, Any]:
    """Return what is known of the night rate: that of another inverter in this house, else the fixed prices of the energy dashboard."""
    for entry in hass.config_entries.async_entries(DOMAIN, include_ignore=False):
        tariff = entry.options.get(TARIFF, {})
        if len(bands := tariff.get("bands", ())) == 1:
            band = bands[0]
            return {
                _START: band["start"],
                _END: band["end"],
                _NIGHT_BUY: band["buy"],
                _BUY: tariff["buy"],
                _SELL: tariff.get("sell", 0),
            }
    prices = await dashboard_prices(hass)
    return {key: price for key, price in zip((_BUY, _SELL), prices, strict=True) if price is not None}


def title_of(register_map: RegisterMap) -> str:
    """Return what an inverter with this map is called at first."""
    if register_map.id == NO_MAP:
        return text("no_map_title")
    return f"{register_map.maker} {register_map.model}"


async def found_text(hass: HomeAssistant, found: Found, data: Mapping[str, Any]) -> dict[str, str]:
    """Return what the page says of the inverter, as placeholders of its text."""
    return {
        "maker": found.register_map.maker,
        "model": found.register_map.model,
        "serial": found.serial or NOTHING,
        "level": NOTHING if found.level is None else f"{found.level:g} %",
        "schedule": NOTHING if found.schedule is None else schedule_text(found.schedule),
        "clock": offset_text(found.clock_offset),
        **await line_text(hass, found, data),
    }


async def line_text(hass: HomeAssistant, found: Found, data: Mapping[str, Any]) -> dict[str, str]:
    """Return what the page says of the line, as placeholders of its text."""
    framing = str(data[CONF_FRAMING])
    labels = await async_get_translations(hass, hass.config.language, "selector", {DOMAIN})
    return {
        "framing": labels.get(f"component.{DOMAIN}.selector.framing.options.{framing}", framing),
        "connect": f"{found.connect_ms:g} ms",
        "round_trip": f"{found.round_trip_ms:g} ms",
        "worst": f"{found.worst_round_trip_ms:g} ms",
        "users": await users_text(hass, endpoint_of(data)),
        "share": percent(found.share.at(DEFAULT_FAST_SECONDS, DEFAULT_SLOW_SECONDS)),
        "look_again": _look_again(found),
    }


def _look_again(found: Found) -> str:
    """Return what is doubtful: other maps that fit as well, and what the map's author should look at again."""
    parts: list[str] = []
    if found.fits:
        key = "found_fits" if found.register_map.id == NO_MAP else "found_fits_too"
        parts.append(f"{sentence(key)}\n\n{bullets(found.fits)}")
    if found.register_map.doubts:
        parts.append(f"{sentence('found_doubts')}\n\n{bullets(map_doubts(found.register_map))}")
    return "".join(f"\n\n{part}" for part in parts)


def options_found(hass: HomeAssistant, user_input: Mapping[str, Any], read: Mapping[str, float]) -> dict[str, Any]:
    """Return the new entry's options. With a night rate, they hold the tariff, and the battery as far as it was read.

    Raises FieldRejected for a night rate with a gap, ValueError as the options' own forms.
    """
    options = {key: value for key, value in user_input.items() if key not in {BLUEPRINTS, NIGHT_RATE}}
    rate: Mapping[str, Any] = user_input.get(NIGHT_RATE) or {}
    if not any(key in rate for key in (_START, _END, _NIGHT_BUY)):
        return options
    if (
        any(key not in rate for key in (_START, _END, _NIGHT_BUY, _BUY))
        or not _ASKED.keys() <= rate.keys() | read.keys()
    ):
        raise FieldRejected("base", "night_rate_incomplete", "")
    tariff = {
        "buy": rate[_BUY],
        "sell": rate.get(_SELL, 0),
        "bands": [{"start": rate[_START], "end": rate[_END], "buy": rate[_NIGHT_BUY]}],
        "keeps": str(Keeps.LOCAL),
    }
    checked_tariff(hass, tariff)
    given = {key: rate[key] for key in _ASKED if key in rate}
    battery = BATTERY_SCHEMA({**read, **given})
    battery_of(battery)
    return {**options, TARIFF: tariff, BATTERY: battery}
