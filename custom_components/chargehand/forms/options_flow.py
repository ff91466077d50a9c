"""An inverter's options: how often it is read, what may be written, its battery, the house's tariff."""

from collections.abc import Callable, Mapping
from contextlib import suppress
from functools import partial
from typing import Any

import voluptuous as vol
from homeassistant.config_entries import ConfigEntryState, ConfigFlowResult, OptionsFlowWithReload
from homeassistant.core import HomeAssistant
from homeassistant.exceptions import HomeAssistantError
from homeassistant.helpers import selector

from ..const import (
    AFTER_PAUSE,
    BY_BUTTON,
    CONF_ALLOW_CONTROL,
    CONF_EDITS,
    CONF_EDITS_SECONDS,
    CONF_FAST_SECONDS,
    CONF_REGISTER_MAP,
    CONF_SET_CLOCK_SECONDS,
    CONF_SLOW_SECONDS,
    DEFAULT_EDITS_SECONDS,
    DEFAULT_FAST_SECONDS,
    DEFAULT_SLOW_SECONDS,
)
from ..coordinator import ChargehandConfigEntry
from ..core.inverter import MOST, LineShare, line_share, percent
from ..core.modbus import LineError
from ..core.registers import NO_MAP, Poll
from ..data_logger import DATA_LOGGER
from ..house import dashboard_knows
from ..messages import planning_text
from ..nights import BATTERY, LOAD_SENSOR, SOLAR_SENSOR, TARIFF, own_counter
from .automations_form import AUTOMATIONS, automations_form
from .battery_read import WANTED, battery_read
from .blueprint_files import blueprint_folder, put_in_place
from .fields import box, control_schema
from .logger_form import LOGGER_SCHEMA, checked_logger
from .plan_forms import BATTERY_SCHEMA, FieldRejected, checked_battery, checked_tariff, tariff_schema


class ChargehandOptionsFlow(OptionsFlowWithReload):
    """The options, as a menu of small forms; the entry starts anew with those that are another."""

    config_entry: ChargehandConfigEntry

    async def async_step_init(self, user_input: dict[str, Any] | None = None) -> ConfigFlowResult:
        """Offer the forms."""
        if self.config_entry.data[CONF_REGISTER_MAP] == NO_MAP:
            return await self.async_step_unmapped()
        return self.async_show_menu(
            step_id="init", menu_options=["polling", "control", CONF_EDITS, BATTERY, TARIFF, DATA_LOGGER, AUTOMATIONS]
        )

    async def async_step_unmapped(self, user_input: dict[str, Any] | None = None) -> ConfigFlowResult:
        """Offer what needs no register map: without one, there is nothing to control or plan."""
        # A port that was opened while there was a map can be closed.
        opened = [DATA_LOGGER] if DATA_LOGGER in self.config_entry.options else []
        return self.async_show_menu(step_id="unmapped", menu_options=["polling", *opened, AUTOMATIONS])

    async def async_step_polling(self, user_input: dict[str, Any] | None = None) -> ConfigFlowResult:
        """How often to read."""
        schema = vol.Schema(
            {
                vol.Required(CONF_FAST_SECONDS, default=DEFAULT_FAST_SECONDS): box(1, 600, "s"),
                vol.Required(CONF_SLOW_SECONDS, default=DEFAULT_SLOW_SECONDS): box(10, 3600, "s"),
            }
        )
        errors: dict[str, str] = {}
        figures: dict[str, str] = {}
        if user_input is not None:
            fast, slow = user_input[CONF_FAST_SECONDS], user_input[CONF_SLOW_SECONDS]
            share = self._share()
            better = None if share is None else share.shortest_fast(slow)
            if slow < fast:
                errors["base"] = "slow_below_fast"
            elif share is None or share.at(fast, slow) <= MOST:
                return self._stored(user_input)
            elif better is None:
                errors[CONF_SLOW_SECONDS] = "slow_takes_line"
            else:
                errors[CONF_FAST_SECONDS] = "takes_line"
                figures = {"share": percent(share.at(fast, slow)), "better": str(better)}
        return self.async_show_form(
            step_id="polling",
            data_schema=self.add_suggested_values_to_schema(schema, user_input or self.config_entry.options),
            errors=errors,
            description_placeholders={"share": "", "better": "", **figures},
        )

    async def async_step_control(self, user_input: dict[str, Any] | None = None) -> ConfigFlowResult:
        """Whether Chargehand may write."""
        if user_input is not None:
            return self._stored(user_input)
        options = self.config_entry.options
        return self.async_show_form(
            step_id="control",
            data_schema=control_schema(
                allowed=options.get(CONF_ALLOW_CONTROL, False), clock_seconds=options.get(CONF_SET_CLOCK_SECONDS, 0)
            ),
        )

    async def async_step_edits(self, user_input: dict[str, Any] | None = None) -> ConfigFlowResult:
        """When edits of windows are applied."""
        if user_input is not None:
            return self._stored(user_input)
        when = selector.SelectSelectorConfig(options=[BY_BUTTON, AFTER_PAUSE], translation_key=CONF_EDITS)
        schema = vol.Schema(
            {
                vol.Required(CONF_EDITS, default=BY_BUTTON): selector.SelectSelector(when),
                vol.Required(CONF_EDITS_SECONDS, default=DEFAULT_EDITS_SECONDS): box(5, 300, "s"),
            }
        )
        return self.async_show_form(
            step_id=CONF_EDITS, data_schema=self.add_suggested_values_to_schema(schema, self.config_entry.options)
        )

    async def async_step_battery(self, user_input: dict[str, Any] | None = None) -> ConfigFlowResult:
        """Ask for the battery as a plan sees it, and where the house's energies are kept; filled in with what is known of them."""
        known = {} if BATTERY in self.config_entry.options or user_input else await self._known_battery()
        return self._planned(BATTERY, BATTERY_SCHEMA, checked_battery, user_input, known)

    async def async_step_tariff(self, user_input: dict[str, Any] | None = None) -> ConfigFlowResult:
        """Ask what energy costs, and when."""
        return self._planned(TARIFF, tariff_schema(self.hass.config.currency), checked_tariff, user_input, {})

    async def async_step_data_logger(self, user_input: dict[str, Any] | None = None) -> ConfigFlowResult:
        """Ask on which port the maker's data logger is served, and to whom."""
        return self._planned(
            DATA_LOGGER, LOGGER_SCHEMA, partial(checked_logger, self.config_entry.entry_id), user_input, {}
        )

    def _planned(
        self,
        step: str,
        schema: vol.Schema,
        check: Callable[[HomeAssistant, Mapping[str, Any]], None],
        user_input: dict[str, Any] | None,
        known: Mapping[str, Any],
    ) -> ConfigFlowResult:
        """Show a form whose input is kept when it can be used."""
        errors: dict[str, str] = {}
        detail = ""
        if user_input is not None:
            try:
                check(self.hass, user_input)
            except FieldRejected as fault:
                errors[fault.field], detail = fault.key, str(fault)
            except ValueError as fault:
                errors["base"], detail = f"{step}_rejected", planning_text(fault)
            else:
                return self._stored({step: user_input})
        shown = user_input or self.config_entry.options.get(step, known)
        return self.async_show_form(
            step_id=step,
            data_schema=self.add_suggested_values_to_schema(schema, shown),
            errors=errors,
            description_placeholders={"detail": detail},
        )

    async def _known_battery(self) -> dict[str, Any]:
        """Return the battery's options as far as the inverter reports them, and its counters where the energy dashboard has none."""
        dashboard = await dashboard_knows(self.hass)
        own = {
            option: counter
            for option, known in zip((LOAD_SENSOR, SOLAR_SENSOR), dashboard, strict=True)
            if not known and (counter := own_counter(self.hass, self.config_entry, option)) is not None
        }
        if self.config_entry.state is not ConfigEntryState.LOADED:
            return own
        coordinator = self.config_entry.runtime_data
        reader = coordinator.inverter.reader
        values = dict(coordinator.data.values)
        # What no enabled entity shows has not been read yet. Of an inverter that is away, the last values count.
        with suppress(LineError):
            values |= (await reader.poll(WANTED & reader.all_keys(), set(Poll))).values
        return {**battery_read(coordinator.inverter.map, values), **own}

    async def async_step_automations(self, user_input: dict[str, Any] | None = None) -> ConfigFlowResult:
        """Put Chargehand's blueprints in place, or renew them, as far as the user chooses them."""
        errors: dict[str, str] = {}
        detail = ""
        if user_input is not None:
            chosen = user_input.get(AUTOMATIONS, [])
            if not chosen:
                return self._stored({})
            try:
                await put_in_place(self.hass, chosen)
            except (OSError, HomeAssistantError) as fault:
                # The platform has an error of its own for a file that cannot be written.
                errors["base"], detail = "not_put_in_place", str(fault)
            else:
                return self.async_abort(reason="put_in_place", description_placeholders={"count": str(len(chosen))})
        schema, current = await automations_form(self.hass)
        return self.async_show_form(
            step_id=AUTOMATIONS,
            data_schema=schema,
            errors=errors,
            description_placeholders={
                "folder": str(blueprint_folder(self.hass)),
                "current": current or "–",
                "detail": detail,
            },
        )

    def _share(self) -> LineShare | None:
        """Return what polling takes of the line, as measured; None while the inverter is not running."""
        if self.config_entry.state is not ConfigEntryState.LOADED:
            return None
        coordinator = self.config_entry.runtime_data
        return line_share(coordinator.inverter, coordinator.wanted_keys())

    def _stored(self, changed: Mapping[str, Any]) -> ConfigFlowResult:
        return self.async_create_entry(data={**self.config_entry.options, **changed})
