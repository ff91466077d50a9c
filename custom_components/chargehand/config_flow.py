"""Adding an inverter in the user interface, and changing its gateway or map."""

import logging
from collections.abc import Mapping
from typing import Any

from homeassistant.config_entries import (
    SOURCE_RECONFIGURE,
    ConfigEntry,
    ConfigFlow,
    ConfigFlowResult,
)
from homeassistant.const import CONF_DEVICE, CONF_HOST, CONF_PORT
from homeassistant.core import callback
from homeassistant.exceptions import HomeAssistantError

from .connection import Found, NotFound, entry_of, probe
from .const import CONF_BAUD, CONF_FRAMING, CONF_PARITY, CONF_REGISTER_MAP, CONF_STOP_BITS, CONF_UNIT, DOMAIN
from .coordinator import ChargehandConfigEntry
from .core.modbus import Framing
from .forms import (
    BLUEPRINTS,
    NIGHT_RATE,
    SERIAL_SCHEMA,
    BlueprintState,
    ChargehandOptionsFlow,
    FieldRejected,
    battery_read,
    cleaned_gateway,
    found_schema,
    found_text,
    gateway_schema,
    host_errors,
    known_rate,
    map_titles,
    options_found,
    put_in_place,
    shipped_blueprints,
)
from .messages import load_texts, planning_text

_LOGGER = logging.getLogger(__name__)

ON_SERIAL = {"cannot_connect": "cannot_open", "connection_refused_busy": "cannot_open", "no_answer": "no_answer_serial"}
"""What some errors are called where there is no gateway."""


FIELDS = {
    "map_invalid": CONF_REGISTER_MAP,
    "wrong_framing": CONF_FRAMING,
    "host_unknown": CONF_HOST,
    "port_closed": CONF_PORT,
}
"""The fields that errors belong to."""


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
            data = cleaned_gateway(user_input)
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
        maps = await self.hass.async_add_executor_job(map_titles, self.hass)
        shown = user_input or (dict(self._get_reconfigure_entry().data) if self.source == SOURCE_RECONFIGURE else {})
        return self.async_show_form(
            step_id="reconfigure" if self.source == SOURCE_RECONFIGURE else "user",
            data_schema=self.add_suggested_values_to_schema(gateway_schema(maps), shown),
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
        """Show what was found, and ask whether it may be controlled, and for the night rate."""
        found = self._found
        if found is None:
            return await self.async_step_user()
        await load_texts(self.hass)
        read = battery_read(found.register_map, found.values)
        errors: dict[str, str] = {}
        detail = ""
        if user_input is not None:
            try:
                options = options_found(self.hass, user_input, read)
            except FieldRejected as fault:
                errors[fault.field] = fault.key
            except ValueError as fault:
                errors["base"], detail = "night_rate_rejected", planning_text(fault)
            else:
                return await self._added(found, options, blueprints=user_input.get(BLUEPRINTS, False))
        missing = [one.file for one in await shipped_blueprints(self.hass) if one.state is BlueprintState.MISSING]
        schema = found_schema(self.hass.config.currency, found.register_map, read, blueprints_missing=bool(missing))
        return self.async_show_form(
            step_id="confirm",
            data_schema=self.add_suggested_values_to_schema(
                schema, user_input or {NIGHT_RATE: await known_rate(self.hass)}
            ),
            errors=errors,
            description_placeholders={"detail": detail, **await found_text(self.hass, found, self._data)},
        )

    async def _added(self, found: Found, options: dict[str, Any], *, blueprints: bool) -> ConfigFlowResult:
        """Add the entry, and the blueprints that are missing."""
        # Another form may have been faster.
        other = await self._other(found, self._data)
        if other is not None:
            return self.async_abort(reason="already_added", description_placeholders={"inverter": other.title})
        if blueprints:
            missing = [one.file for one in await shipped_blueprints(self.hass) if one.state is BlueprintState.MISSING]
            try:
                await put_in_place(self.hass, missing)
            except (OSError, HomeAssistantError) as fault:
                # The inverter is there without them; the options offer them again.
                _LOGGER.warning("Chargehand's blueprints could not be put in place: %s", fault)
        title = f"{found.register_map.maker} {found.register_map.model}"
        return self.async_create_entry(title=title, data=self._data, options=options)


def _field(key: str) -> str:
    """Return the field that an error belongs to."""
    return FIELDS.get(key, "base")
