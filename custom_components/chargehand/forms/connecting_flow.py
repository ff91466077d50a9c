"""The steps that ask how an inverter is reached, and go on only when one has answered."""

from abc import abstractmethod
from collections.abc import Mapping
from typing import Any

from homeassistant.config_entries import SOURCE_RECONFIGURE, ConfigEntry, ConfigFlow, ConfigFlowResult
from homeassistant.const import CONF_DEVICE, CONF_HOST, CONF_PORT
from homeassistant.exceptions import HomeAssistantError

from ..connection import Found, NotFound, entry_of, own_maps, probe
from ..const import (
    CONF_BAUD,
    CONF_FRAMING,
    CONF_LINE,
    CONF_MAP_FILE,
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
from .form_fault import NO_FAULT, FormFault, probe_fault
from .gateway_form import SERIAL_SCHEMA, cleaned_gateway, gateway_schema
from .line_form import LINE_SCHEMA, cleaned_line, line_errors, line_found, removes_text, unit_of
from .map_choices import lists_text, map_choices
from .map_upload import UPLOAD_FAULTS, UploadedMap, keep_map, other_content, taken_upload, upload_fault


class ConnectingFlow(ConfigFlow):
    """Asks for gateway or adapter and register map, of a new inverter or of one that is reconfigured."""

    def __init__(self) -> None:
        """Start with nothing found."""
        self._entered: dict[str, Any] = {}
        """What was filled in on the first form."""

        self._data: dict[str, Any] = {}
        self._upload: UploadedMap | None = None
        """A map that is right, until it is kept."""

        self._replaced: bytes | None = None
        """The map of the same name that was asked about."""

        self._found: Found | None = None

    @abstractmethod
    async def go_on(self, found: Found) -> ConfigFlowResult:
        """Go on with an inverter that has answered, and is no other entry's."""

    async def async_step_user(self, user_input: dict[str, Any] | None = None) -> ConfigFlowResult:
        """Ask for gateway and map; go on only when the inverter behind it has answered."""
        if user_input is None:
            return await self._gateway_form(self._before)
        self._entered = {key: value for key, value in user_input.items() if key != CONF_MAP_FILE}
        if CONF_MAP_FILE in user_input:
            return await self._take_upload(user_input[CONF_MAP_FILE])
        return await self._submitted()

    async def async_step_reconfigure(self, user_input: dict[str, Any] | None = None) -> ConfigFlowResult:
        """Change gateway and map of an inverter that is already there."""
        return await self.async_step_user(user_input)

    async def _submitted(self) -> ConfigFlowResult:
        """Go on with what was filled in on the first form."""
        data = cleaned_gateway(self._entered)
        errors = {key: "not_whole" for key in (CONF_PORT, CONF_UNIT) if data.get(key, 0) % 1}
        if CONF_REGISTER_MAP not in data:
            errors[CONF_REGISTER_MAP] = "map_missing"
        serial, detail = data[CONF_FRAMING] == Framing.SERIAL, ""
        if not errors and not serial:
            errors, detail = host_errors(data[CONF_HOST])
        if errors:
            return await self._gateway_form(self._entered, FormFault(errors=errors, detail=detail))
        self._data = data
        if data[CONF_REGISTER_MAP] == NO_MAP:
            return await self.async_step_line()
        if serial:
            return await self.async_step_serial()
        found = await self._probed(data)
        if isinstance(found, FormFault):
            return await self._gateway_form(self._entered, found)
        return await self.go_on(found)

    # ---- a map that is uploaded

    async def _take_upload(self, file_id: str) -> ConfigFlowResult:
        """Check an uploaded map, and ask about another one of its name; it is kept once the inverter has answered."""
        await load_texts(self.hass)
        self._upload, self._replaced = None, None
        try:
            upload = await self.hass.async_add_executor_job(taken_upload, self.hass, file_id)
            other = await self.hass.async_add_executor_job(other_content, self.hass, upload)
        except UPLOAD_FAULTS as fault:
            return await self._gateway_form(self._entered, upload_fault(fault))
        self._upload = upload
        if other is None:
            return await self.async_step_take_map()
        self._replaced = other
        return await self.async_step_known_map()

    async def async_step_known_map(self, user_input: dict[str, Any] | None = None) -> ConfigFlowResult:
        """Ask whether an uploaded map takes the place of the one that has its name."""
        if self._upload is None:
            return await self.async_step_user()
        map_id = self._upload.register_map.id
        entries = self.hass.config_entries.async_entries(DOMAIN, include_ignore=False)
        users = [entry.title for entry in entries if entry.data[CONF_REGISTER_MAP] == map_id]
        return self.async_show_menu(
            step_id="known_map",
            menu_options=["take_map", "cancel_map"],
            description_placeholders={
                "file": self._upload.file,
                "folder": str(own_maps(self.hass)),
                "users": sentence("form_map_used", inverters=", ".join(users)) if users else "",
            },
        )

    async def async_step_take_map(self, user_input: dict[str, Any] | None = None) -> ConfigFlowResult:
        """Go on with the uploaded map."""
        if self._upload is None:
            return await self.async_step_user()
        self._entered[CONF_REGISTER_MAP] = self._upload.register_map.id
        return await self._submitted()

    async def async_step_cancel_map(self, user_input: dict[str, Any] | None = None) -> ConfigFlowResult:
        """Keep the map that is there, and nothing of the one that was uploaded."""
        self._upload = None
        return await self._gateway_form(self._entered)

    async def _keep_upload(self, upload: UploadedMap) -> FormFault:
        """Keep an uploaded map that fits the inverter. Return what kept it from that."""
        try:
            other = await self.hass.async_add_executor_job(other_content, self.hass, upload)
            if other not in {None, self._replaced}:
                return FormFault(errors={CONF_MAP_FILE: "map_changed"}, detail=upload.file)
            await self.hass.async_add_executor_job(keep_map, self.hass, upload)
        except (OSError, HomeAssistantError) as fault:
            return FormFault(errors={CONF_MAP_FILE: "map_not_kept"}, detail=str(fault))
        self._upload = None
        return NO_FAULT

    # ---- forms

    @property
    def _before(self) -> Mapping[str, Any]:
        """The data of the entry that is reconfigured; empty for a new one."""
        return self._get_reconfigure_entry().data if self.source == SOURCE_RECONFIGURE else {}

    async def _gateway_form(self, shown: Mapping[str, Any], fault: FormFault = NO_FAULT) -> ConfigFlowResult:
        """Show the first form."""
        await load_texts(self.hass)
        uploaded = None if self._upload is None else self._upload.register_map
        maps = await self.hass.async_add_executor_job(map_choices, self.hass, uploaded)
        return self.async_show_form(
            step_id="reconfigure" if self.source == SOURCE_RECONFIGURE else "user",
            data_schema=self.add_suggested_values_to_schema(gateway_schema(maps.options), shown),
            errors=dict(fault.errors),
            description_placeholders={
                "detail": fault.detail,
                "folder": str(own_maps(self.hass)),
                "lists": lists_text(fault.lines, maps.unused),
            },
        )

    async def async_step_line(self, user_input: dict[str, Any] | None = None) -> ConfigFlowResult:
        """Ask for what a map would say of the line, of an inverter that has none yet."""
        fault = NO_FAULT
        shown: Mapping[str, Any] = user_input or {
            **self._before.get(CONF_LINE, {}),
            **unit_of(self._before),
            **unit_of(self._data),
        }
        if user_input is not None:
            fault = FormFault(errors=line_errors(user_input))
            if not fault.errors:
                self._data = {**self._data, **cleaned_line(user_input)}
                if self._data[CONF_FRAMING] == Framing.SERIAL:
                    return await self.async_step_serial()
                found = await self._probed(self._data)
                if not isinstance(found, FormFault):
                    return await self.go_on(found)
                if found.of_first_form:
                    return await self._gateway_form(self._entered, found)
                fault = found
        return self.async_show_form(
            step_id="line",
            data_schema=self.add_suggested_values_to_schema(LINE_SCHEMA, shown),
            errors=dict(fault.errors),
            description_placeholders={"detail": fault.detail, "removes": removes_text(self._before)},
        )

    async def async_step_serial(self, user_input: dict[str, Any] | None = None) -> ConfigFlowResult:
        """Ask for the adapter that is plugged into this computer, and how its bus runs."""
        fault = NO_FAULT
        shown: Mapping[str, Any] = user_input or {}
        if user_input is not None:
            baud = user_input[CONF_BAUD]
            if not baud.isdecimal() or not 300 <= int(baud) <= 1_000_000:
                fault = FormFault(errors={CONF_BAUD: "no_baud_rate"})
            else:
                numbers = {CONF_BAUD: int(baud), CONF_STOP_BITS: int(user_input[CONF_STOP_BITS])}
                found = await self._probed({**self._data, **user_input, **numbers})
                if not isinstance(found, FormFault):
                    return await self.go_on(found)
                if found.of_first_form:
                    return await self._gateway_form(self._entered, found)
                fault = found
        else:
            keys = (CONF_DEVICE, CONF_BAUD, CONF_PARITY, CONF_STOP_BITS)
            shown = {key: str(self._before[key]) for key in keys if key in self._before}
        return self.async_show_form(
            step_id="serial",
            data_schema=self.add_suggested_values_to_schema(SERIAL_SCHEMA, shown),
            errors=dict(fault.errors),
            description_placeholders={"detail": fault.detail},
        )

    # ---- what answers

    async def _probed(self, data: dict[str, Any]) -> Found | FormFault:
        """Try what was filled in. Return what was found and is kept, or what is wrong with the form."""
        upload = self._upload
        if upload is not None and data[CONF_REGISTER_MAP] != upload.register_map.id:
            upload = None
        try:
            found = await probe(self.hass, data, None if upload is None else upload.register_map)
        except NotFound as fault:
            return probe_fault(fault, data[CONF_FRAMING])
        other = await self._other(found, data)
        if other is not None:
            return FormFault(errors={"base": "already_added"}, detail=other.title)
        if upload is not None and (not_kept := await self._keep_upload(upload)).errors:
            return not_kept
        if CONF_LINE in data:
            data = {**data, CONF_LINE: line_found(data[CONF_LINE], found.register_map)}
        self._data, self._found = data, found
        return found

    async def _other(self, found: Found, data: Mapping[str, Any]) -> ConfigEntry | None:
        """Return the entry that has this inverter already, besides the one that is reconfigured."""
        here = self._get_reconfigure_entry().entry_id if self.source == SOURCE_RECONFIGURE else None
        return await entry_of(self.hass, data, found.unit, found.serial, besides=here)
