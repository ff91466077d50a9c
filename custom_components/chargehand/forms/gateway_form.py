"""The forms that ask how an inverter is reached: gateway or adapter, and the register map."""

from collections import Counter
from collections.abc import Mapping
from typing import Any

import voluptuous as vol
from homeassistant.const import CONF_DEVICE, CONF_HOST, CONF_PORT
from homeassistant.core import HomeAssistant
from homeassistant.helpers import selector

from ..connection import map_paths, own_maps, read_map
from ..const import (
    CONF_BAUD,
    CONF_FRAMING,
    CONF_PARITY,
    CONF_REGISTER_MAP,
    CONF_STOP_BITS,
    CONF_UNIT,
    DEFAULT_BAUD,
    DEFAULT_PORT,
)
from ..core.modbus import Framing
from ..core.registers import NO_MAP, SUNSPEC, LineRules, MapInvalid, no_map
from .fields import box

BAUD_RATES = ["9600", "19200", "38400", "57600", "115200"]


def map_titles(hass: HomeAssistant) -> list[selector.SelectOptionDict]:
    """Return register maps to pick from, by title; one that is broken can be picked too, and then says what is wrong. Blocks."""
    titles: dict[str, str] = {}
    paths = map_paths(hass)
    for map_id in (*paths, SUNSPEC):
        try:
            titles[map_id] = read_map(hass, map_id).title
        except MapInvalid:
            titles[map_id] = f"{map_id}.yaml"
    # A copy of a map that was begun with has its title until that is changed.
    often = Counter(titles.values())
    labels = {map_id: f"{title} ({map_id})" if often[title] > 1 else title for map_id, title in titles.items()}
    own = {map_id for map_id, path in paths.items() if path.parent == own_maps(hass)}
    ordered = sorted(labels, key=lambda map_id: (map_id not in own, labels[map_id].casefold()))
    options = [selector.SelectOptionDict(value=map_id, label=labels[map_id]) for map_id in ordered]
    return [*options, selector.SelectOptionDict(value=NO_MAP, label=no_map(LineRules()).title)]


def gateway_schema(maps: list[selector.SelectOptionDict]) -> vol.Schema:
    """Return the form for gateway and map."""
    return vol.Schema(
        {
            vol.Optional(CONF_HOST, default=""): selector.TextSelector(),
            vol.Required(CONF_PORT, default=DEFAULT_PORT): box(1, 65535),
            vol.Required(CONF_FRAMING, default=str(Framing.TCP)): selector.SelectSelector(
                selector.SelectSelectorConfig(options=[str(framing) for framing in Framing], translation_key="framing")
            ),
            vol.Optional(CONF_UNIT): box(0, 247),
            vol.Required(CONF_REGISTER_MAP): selector.SelectSelector(
                selector.SelectSelectorConfig(
                    options=maps, mode=selector.SelectSelectorMode.DROPDOWN, translation_key=CONF_REGISTER_MAP
                )
            ),
        }
    )


SERIAL_SCHEMA = vol.Schema(
    {
        vol.Required(CONF_DEVICE): selector.SerialPortSelector(),
        vol.Required(CONF_BAUD, default=str(DEFAULT_BAUD)): selector.SelectSelector(
            selector.SelectSelectorConfig(
                options=BAUD_RATES, mode=selector.SelectSelectorMode.DROPDOWN, custom_value=True
            )
        ),
        vol.Required(CONF_PARITY, default="n"): selector.SelectSelector(
            selector.SelectSelectorConfig(options=["n", "e", "o"], translation_key="parity")
        ),
        vol.Required(CONF_STOP_BITS, default="1"): selector.SelectSelector(
            selector.SelectSelectorConfig(options=["1", "2"], translation_key="stop_bits")
        ),
    }
)


def cleaned_gateway(user_input: Mapping[str, Any]) -> dict[str, Any]:
    """Return the form's input as it is stored: no blanks around the host, whole numbers as such, nothing that an adapter has no use for."""
    whole = {key: int(value) for key, value in user_input.items() if isinstance(value, float) and not value % 1}
    data = {**user_input, **whole, CONF_HOST: user_input[CONF_HOST].strip()}
    if data[CONF_FRAMING] == Framing.SERIAL:
        del data[CONF_HOST], data[CONF_PORT]
    return data
