"""The forms that ask how an inverter is reached: gateway or adapter, and the register map."""

from collections.abc import Mapping
from typing import Any

import voluptuous as vol
from homeassistant.const import CONF_DEVICE, CONF_HOST, CONF_PORT
from homeassistant.helpers import selector

from ..const import (
    CONF_BAUD,
    CONF_FRAMING,
    CONF_MAP_FILE,
    CONF_PARITY,
    CONF_REGISTER_MAP,
    CONF_STOP_BITS,
    CONF_UNIT,
    DEFAULT_BAUD,
    DEFAULT_PORT,
)
from ..core.modbus import Framing
from .fields import box

BAUD_RATES = ["9600", "19200", "38400", "57600", "115200"]


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
            # Of a required field, the page fills in the first choice.
            vol.Optional(CONF_REGISTER_MAP): selector.SelectSelector(
                selector.SelectSelectorConfig(
                    options=maps, mode=selector.SelectSelectorMode.DROPDOWN, translation_key=CONF_REGISTER_MAP
                )
            ),
            vol.Optional(CONF_MAP_FILE): selector.FileSelector(selector.FileSelectorConfig(accept=".yaml")),
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
