"""Adding an inverter in the user interface, and changing its gateway or map."""

import logging
from typing import Any

import voluptuous as vol
from homeassistant.config_entries import SOURCE_RECONFIGURE, ConfigFlowResult
from homeassistant.core import callback
from homeassistant.exceptions import HomeAssistantError

from .connection import Found
from .const import CONF_REGISTER_MAP, DOMAIN
from .coordinator import ChargehandConfigEntry
from .core.registers import NO_MAP
from .forms import (
    BLUEPRINTS,
    NIGHT_RATE,
    BlueprintState,
    ChargehandOptionsFlow,
    ConnectingFlow,
    FieldRejected,
    battery_read,
    found_schema,
    found_text,
    known_rate,
    line_text,
    options_found,
    put_in_place,
    shipped_blueprints,
    title_of,
)
from .messages import load_texts, planning_text, text

_LOGGER = logging.getLogger(__name__)


class ChargehandConfigFlow(ConnectingFlow, domain=DOMAIN):
    """Adds an inverter, or changes how it is reached."""

    VERSION = 1

    @staticmethod
    @callback
    def async_get_options_flow(config_entry: ChargehandConfigEntry) -> ChargehandOptionsFlow:
        """Return the options flow."""
        return ChargehandOptionsFlow()

    async def go_on(self, found: Found) -> ConfigFlowResult:
        """Change the entry that is reconfigured, else show what was found."""
        await self.async_set_unique_id(found.serial, raise_on_progress=False)
        if self.source == SOURCE_RECONFIGURE:
            entry = self._get_reconfigure_entry()
            if None not in (found.serial, entry.unique_id):
                self._abort_if_unique_id_mismatch(reason="other_inverter")
            serial = found.serial or entry.unique_id
            # A name that its user has given stays.
            unnamed = entry.data[CONF_REGISTER_MAP] == NO_MAP and entry.title == text("no_map_title")
            title = title_of(found.register_map) if unnamed else entry.title
            return self.async_update_reload_and_abort(entry, unique_id=serial, title=title, data=self._data)
        if found.register_map.id == NO_MAP:
            return await self.async_step_unmapped()
        return await self.async_step_confirm()

    async def async_step_unmapped(self, user_input: dict[str, Any] | None = None) -> ConfigFlowResult:
        """Show that an inverter answers of which no register is known; nothing can be asked of it but to be read."""
        found = self._found
        if found is None:
            return await self.async_step_user()
        if user_input is not None:
            return await self._added(found, {}, blueprints=False)
        return self.async_show_form(
            step_id="unmapped",
            data_schema=vol.Schema({}),
            description_placeholders={"unit": str(found.unit), **await line_text(self.hass, found, self._data)},
        )

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
        return self.async_create_entry(title=title_of(found.register_map), data=self._data, options=options)
