"""Adding an inverter in the user interface, and changing its gateway or map."""

from collections import Counter
from collections.abc import Mapping
from typing import Any

import voluptuous as vol
from homeassistant.config_entries import (
    SOURCE_RECONFIGURE,
    ConfigEntry,
    ConfigFlow,
    ConfigFlowResult,
)
from homeassistant.const import CONF_DEVICE, CONF_HOST, CONF_PORT
from homeassistant.core import HomeAssistant, callback
from homeassistant.helpers import selector
from homeassistant.helpers.translation import async_get_translations

from .connection import Found, NotFound, endpoint_of, entry_of, map_paths, offset_text, probe, read_map, users_text
from .const import (
    CONF_BAUD,
    CONF_FRAMING,
    CONF_PARITY,
    CONF_REGISTER_MAP,
    CONF_STOP_BITS,
    CONF_UNIT,
    DEFAULT_BAUD,
    DEFAULT_FAST_SECONDS,
    DEFAULT_PORT,
    DEFAULT_SLOW_SECONDS,
    DOMAIN,
)
from .coordinator import ChargehandConfigEntry
from .core.inverter import percent
from .core.modbus import Framing
from .core.registers import SUNSPEC, MapInvalid
from .forms import ChargehandOptionsFlow, box, control_schema, host_errors

NOTHING = "–"
BAUD_RATES = ["9600", "19200", "38400", "57600", "115200"]
ON_SERIAL = {"cannot_connect": "cannot_open", "connection_refused_busy": "cannot_open", "no_answer": "no_answer_serial"}
"""What some errors are called where there is no gateway."""


FIELDS = {
    "map_invalid": CONF_REGISTER_MAP,
    "wrong_framing": CONF_FRAMING,
    "host_unknown": CONF_HOST,
    "port_closed": CONF_PORT,
}
"""The fields that errors belong to."""


def _titles(hass: HomeAssistant) -> list[selector.SelectOptionDict]:
    """Register maps to pick from, by title; one that is broken can be picked too, and then says what is wrong. Blocks."""
    titles: dict[str, str] = {}
    for map_id in (*map_paths(hass), SUNSPEC):
        try:
            titles[map_id] = read_map(hass, map_id).title
        except MapInvalid:
            titles[map_id] = f"{map_id}.yaml"
    # A copy of a map that was begun with has its title until that is changed.
    often = Counter(titles.values())
    labels = {map_id: f"{title} ({map_id})" if often[title] > 1 else title for map_id, title in titles.items()}
    options = [selector.SelectOptionDict(value=map_id, label=label) for map_id, label in labels.items()]
    return sorted(options, key=lambda option: option["label"])


def _schema(maps: list[selector.SelectOptionDict]) -> vol.Schema:
    return vol.Schema(
        {
            vol.Optional(CONF_HOST, default=""): selector.TextSelector(),
            vol.Required(CONF_PORT, default=DEFAULT_PORT): box(1, 65535),
            vol.Required(CONF_FRAMING, default=str(Framing.TCP)): selector.SelectSelector(
                selector.SelectSelectorConfig(options=[str(framing) for framing in Framing], translation_key="framing")
            ),
            vol.Optional(CONF_UNIT): box(0, 247),
            vol.Required(CONF_REGISTER_MAP): selector.SelectSelector(
                selector.SelectSelectorConfig(options=maps, mode=selector.SelectSelectorMode.DROPDOWN)
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


def _cleaned(user_input: Mapping[str, Any]) -> dict[str, Any]:
    """Return the form's input as it is stored: no blanks around the host, whole numbers as such, nothing that an adapter has no use for."""
    whole = {key: int(value) for key, value in user_input.items() if isinstance(value, float) and not value % 1}
    data = {**user_input, **whole, CONF_HOST: user_input[CONF_HOST].strip()}
    if data[CONF_FRAMING] == Framing.SERIAL:
        del data[CONF_HOST], data[CONF_PORT]
    return data


class ChargehandConfigFlow(ConfigFlow, domain=DOMAIN):
    """Adds an inverter, or changes how it is reached."""

    VERSION = 1

    def __init__(self) -> None:
        """Start with nothing found."""
        self._data: dict[str, Any] = {}
        self._found: Found | None = None

    @staticmethod
    @callback
    def async_get_options_flow(config_entry: ChargehandConfigEntry) -> ChargehandOptionsFlow:
        """Return the options flow."""
        return ChargehandOptionsFlow()

    async def async_step_user(self, user_input: dict[str, Any] | None = None) -> ConfigFlowResult:
        """Ask for gateway and map; go on only when the inverter behind it has answered."""
        errors: dict[str, str] = {}
        detail = ""
        if user_input is not None:
            data = _cleaned(user_input)
            errors = {key: "not_whole" for key in (CONF_PORT, CONF_UNIT) if data.get(key, 0) % 1}
            if not errors and data[CONF_FRAMING] == Framing.SERIAL:
                self._data = data
                return await self.async_step_serial()
            if not errors:
                errors, detail = host_errors(data[CONF_HOST])
            if not errors:
                found, errors, detail = await self._probed(data)
                if found is not None:
                    return await self._go_on(found)
        maps = await self.hass.async_add_executor_job(_titles, self.hass)
        shown = user_input or (dict(self._get_reconfigure_entry().data) if self.source == SOURCE_RECONFIGURE else {})
        return self.async_show_form(
            step_id="reconfigure" if self.source == SOURCE_RECONFIGURE else "user",
            data_schema=self.add_suggested_values_to_schema(_schema(maps), shown),
            errors=errors,
            description_placeholders={"detail": detail, "folder": self.hass.config.path(DOMAIN)},
        )

    async def async_step_serial(self, user_input: dict[str, Any] | None = None) -> ConfigFlowResult:
        """Ask for the adapter that is plugged into this computer, and how its bus runs."""
        errors: dict[str, str] = {}
        detail = ""
        shown: Mapping[str, Any] = user_input or {}
        if user_input is not None:
            baud = user_input[CONF_BAUD]
            if not baud.isdecimal() or not 300 <= int(baud) <= 1_000_000:
                errors[CONF_BAUD] = "no_baud_rate"
            else:
                numbers = {CONF_BAUD: int(baud), CONF_STOP_BITS: int(user_input[CONF_STOP_BITS])}
                found, errors, detail = await self._probed({**self._data, **user_input, **numbers})
                if found is not None:
                    return await self._go_on(found)
        elif self.source == SOURCE_RECONFIGURE:
            kept = self._get_reconfigure_entry().data
            shown = {
                key: str(kept[key]) for key in (CONF_DEVICE, CONF_BAUD, CONF_PARITY, CONF_STOP_BITS) if key in kept
            }
        return self.async_show_form(
            step_id="serial",
            data_schema=self.add_suggested_values_to_schema(SERIAL_SCHEMA, shown),
            errors=errors,
            description_placeholders={"detail": detail},
        )

    async def _probed(self, data: dict[str, Any]) -> tuple[Found | None, dict[str, str], str]:
        """Try what was filled in: what was found and is kept, or the form's errors and what else is known."""
        try:
            found = await probe(self.hass, data)
        except NotFound as fault:
            if data[CONF_FRAMING] == Framing.SERIAL:
                return None, {"base": ON_SERIAL.get(fault.key, fault.key)}, fault.detail
            return None, {_field(fault.key): fault.key}, fault.detail
        other = await self._other(found, data)
        if other is not None:
            return None, {"base": "already_added"}, other.title
        self._data, self._found = data, found
        return found, {}, ""

    async def _other(self, found: Found, data: Mapping[str, Any]) -> ConfigEntry | None:
        """Return the entry that has this inverter already, besides the one that is reconfigured."""
        here = self._get_reconfigure_entry().entry_id if self.source == SOURCE_RECONFIGURE else None
        return await entry_of(self.hass, data, found.unit, found.serial, besides=here)

    async def async_step_reconfigure(self, user_input: dict[str, Any] | None = None) -> ConfigFlowResult:
        """Change gateway and map of an inverter that is already there."""
        return await self.async_step_user(user_input)

    async def _go_on(self, found: Found) -> ConfigFlowResult:
        await self.async_set_unique_id(found.serial, raise_on_progress=False)
        if self.source == SOURCE_RECONFIGURE:
            entry = self._get_reconfigure_entry()
            if None not in (found.serial, entry.unique_id):
                self._abort_if_unique_id_mismatch(reason="other_inverter")
            serial = found.serial or entry.unique_id
            return self.async_update_reload_and_abort(entry, unique_id=serial, data=self._data)
        return await self.async_step_confirm()

    async def async_step_confirm(self, user_input: dict[str, Any] | None = None) -> ConfigFlowResult:
        """Show what was found, and ask whether it may be controlled."""
        found = self._found
        if found is None:
            return await self.async_step_user()
        title = f"{found.register_map.maker} {found.register_map.model}"
        if user_input is not None:
            # Another form may have been faster.
            other = await self._other(found, self._data)
            if other is not None:
                return self.async_abort(reason="already_added", description_placeholders={"inverter": other.title})
            return self.async_create_entry(title=title, data=self._data, options=user_input)
        framing = str(self._data[CONF_FRAMING])
        labels = await async_get_translations(self.hass, self.hass.config.language, "selector", {DOMAIN})
        return self.async_show_form(
            step_id="confirm",
            data_schema=control_schema(allowed=False, clock_seconds=0),
            description_placeholders={
                "maker": found.register_map.maker,
                "model": found.register_map.model,
                "serial": found.serial or NOTHING,
                "level": NOTHING if found.level is None else f"{found.level:g} %",
                "clock": offset_text(found.clock_offset),
                "framing": labels.get(f"component.{DOMAIN}.selector.framing.options.{framing}", framing),
                "connect": f"{found.connect_ms:g} ms",
                "round_trip": f"{found.round_trip_ms:g} ms",
                "worst": f"{found.worst_round_trip_ms:g} ms",
                "users": await users_text(self.hass, endpoint_of(self._data)),
                "share": percent(found.share.at(DEFAULT_FAST_SECONDS, DEFAULT_SLOW_SECONDS)),
            },
        )


def _field(key: str) -> str:
    """Return the field that an error belongs to."""
    return FIELDS.get(key, "base")
