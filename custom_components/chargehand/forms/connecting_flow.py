"""The steps that ask how an inverter is reached, and go on only when one has answered."""

from abc import abstractmethod
from collections.abc import Mapping
from typing import Any

from homeassistant.config_entries import SOURCE_RECONFIGURE, ConfigEntry, ConfigFlow, ConfigFlowResult
from homeassistant.const import CONF_DEVICE, CONF_HOST, CONF_PORT

from ..connection import Found, NotFound, entry_of, probe
from ..const import (
    CONF_BAUD,
    CONF_FRAMING,
    CONF_LINE,
    CONF_PARITY,
    CONF_REGISTER_MAP,
    CONF_STOP_BITS,
    CONF_UNIT,
    DOMAIN,
)
from ..core.modbus import Framing
from ..core.registers import NO_MAP
from ..messages import load_texts, sentence
from .address import host_errors
from .gateway_form import SERIAL_SCHEMA, cleaned_gateway, gateway_schema, map_titles
from .line_form import LINE_SCHEMA, cleaned_line, line_errors, line_found, unit_of
from .probe_errors import probe_errors


class ConnectingFlow(ConfigFlow):
    """Asks for gateway or adapter and register map, of a new inverter or of one that is reconfigured."""

    def __init__(self) -> None:
        """Start with nothing found."""
        self._entered: dict[str, Any] = {}
        """What was filled in on the first form."""

        self._data: dict[str, Any] = {}
        self._found: Found | None = None

    @abstractmethod
    async def go_on(self, found: Found) -> ConfigFlowResult:
        """Go on with an inverter that has answered, and is no other entry's."""

    async def async_step_user(self, user_input: dict[str, Any] | None = None) -> ConfigFlowResult:
        """Ask for gateway and map; go on only when the inverter behind it has answered."""
        if user_input is None:
            return await self._gateway_form(self._before, {})
        self._entered = user_input
        data = cleaned_gateway(user_input)
        errors = {key: "not_whole" for key in (CONF_PORT, CONF_UNIT) if data.get(key, 0) % 1}
        serial, detail = data[CONF_FRAMING] == Framing.SERIAL, ""
        if not errors and not serial:
            errors, detail = host_errors(data[CONF_HOST])
        if not errors:
            self._data = data
            if data[CONF_REGISTER_MAP] == NO_MAP:
                return await self.async_step_line()
            if serial:
                return await self.async_step_serial()
            found, errors, detail = await self._probed(data)
            if found is not None:
                return await self.go_on(found)
        return await self._gateway_form(user_input, errors, detail)

    @property
    def _before(self) -> Mapping[str, Any]:
        """The data of the entry that is reconfigured; empty for a new one."""
        return self._get_reconfigure_entry().data if self.source == SOURCE_RECONFIGURE else {}

    async def _gateway_form(
        self, shown: Mapping[str, Any], errors: dict[str, str], detail: str = ""
    ) -> ConfigFlowResult:
        """Show the first form."""
        maps = await self.hass.async_add_executor_job(map_titles, self.hass)
        return self.async_show_form(
            step_id="reconfigure" if self.source == SOURCE_RECONFIGURE else "user",
            data_schema=self.add_suggested_values_to_schema(gateway_schema(maps), shown),
            errors=errors,
            description_placeholders={"detail": detail, "folder": self.hass.config.path(DOMAIN)},
        )

    async def async_step_line(self, user_input: dict[str, Any] | None = None) -> ConfigFlowResult:
        """Ask for what a map would say of the line, of an inverter that has none yet."""
        errors: dict[str, str] = {}
        detail = ""
        shown: Mapping[str, Any] = user_input or {
            **self._before.get(CONF_LINE, {}),
            **unit_of(self._before),
            **unit_of(self._data),
        }
        if user_input is not None and not (errors := line_errors(user_input)):
            self._data = {**self._data, **cleaned_line(user_input)}
            if self._data[CONF_FRAMING] == Framing.SERIAL:
                return await self.async_step_serial()
            found, errors, detail = await self._probed(self._data)
            if found is not None:
                return await self.go_on(found)
            if errors.keys() != {"base"}:
                # What is wrong stands in the first form.
                return await self._gateway_form(self._entered, errors, detail)
        return self.async_show_form(
            step_id="line",
            data_schema=self.add_suggested_values_to_schema(LINE_SCHEMA, shown),
            errors=errors,
            description_placeholders={"detail": detail, "removes": await self._removes()},
        )

    async def _removes(self) -> str:
        """Return what becomes of the entities of a map that the inverter has now."""
        if self._before.get(CONF_REGISTER_MAP, NO_MAP) == NO_MAP:
            return ""
        await load_texts(self.hass)
        return sentence("no_map_removes")

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
                    return await self.go_on(found)
        else:
            keys = (CONF_DEVICE, CONF_BAUD, CONF_PARITY, CONF_STOP_BITS)
            shown = {key: str(self._before[key]) for key in keys if key in self._before}
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
            return None, probe_errors(fault, data[CONF_FRAMING]), fault.detail
        other = await self._other(found, data)
        if other is not None:
            return None, {"base": "already_added"}, other.title
        if CONF_LINE in data:
            data = {**data, CONF_LINE: line_found(data[CONF_LINE], found.register_map)}
        self._data, self._found = data, found
        return found, {}, ""

    async def _other(self, found: Found, data: Mapping[str, Any]) -> ConfigEntry | None:
        """Return the entry that has this inverter already, besides the one that is reconfigured."""
        here = self._get_reconfigure_entry().entry_id if self.source == SOURCE_RECONFIGURE else None
        return await entry_of(self.hass, data, found.unit, found.serial, besides=here)

    async def async_step_reconfigure(self, user_input: dict[str, Any] | None = None) -> ConfigFlowResult:
        """Change gateway and map of an inverter that is already there."""
        return await self.async_step_user(user_input)
