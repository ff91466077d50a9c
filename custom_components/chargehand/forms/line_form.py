"""The form for an inverter that has no map yet: what a map would say of its line."""

from collections.abc import Mapping
from typing import Any

import voluptuous as vol
from homeassistant.helpers import selector

from ..const import (
    CONF_LINE,
    CONF_LONGEST_READ,
    CONF_NUMBERING,
    CONF_PAUSE_MS,
    CONF_REGISTER_MAP,
    CONF_TEST_REGISTER,
    CONF_TEST_TABLE,
    CONF_TIMEOUT_MS,
    CONF_UNIT,
)
from ..core.registers import LAST_ADDRESS, NO_MAP, LineRules, RegisterMap, Table
from ..messages import sentence
from .fields import box

_USUAL = LineRules()

LINE_SCHEMA = vol.Schema(
    {
        vol.Required(CONF_UNIT, default=_USUAL.unit): box(0, 247),
        vol.Required(CONF_NUMBERING, default=_USUAL.numbering): selector.SelectSelector(
            selector.SelectSelectorConfig(options=["from_0", "from_1"], translation_key=CONF_NUMBERING)
        ),
        vol.Required(CONF_LONGEST_READ, default=_USUAL.longest_read): box(1, _USUAL.longest_read),
        vol.Required(CONF_PAUSE_MS, default=_USUAL.pause_ms): box(0, 10_000, "ms"),
        vol.Required(CONF_TIMEOUT_MS, default=_USUAL.timeout_ms): box(100, 30_000, "ms"),
        vol.Required(CONF_TEST_TABLE, default=str(Table.HOLDING)): selector.SelectSelector(
            selector.SelectSelectorConfig(options=[str(Table.HOLDING), str(Table.INPUT)], translation_key="table")
        ),
        vol.Optional(CONF_TEST_REGISTER): box(0, LAST_ADDRESS + 1),
    }
)


def line_errors(user_input: Mapping[str, Any]) -> dict[str, str]:
    """Return the form's errors."""
    errors = {key: "not_whole" for key, value in user_input.items() if isinstance(value, float) and value % 1}
    register = user_input.get(CONF_TEST_REGISTER)
    lowest = LineRules(numbering=user_input[CONF_NUMBERING]).first_number
    if register is not None and not lowest <= register <= LAST_ADDRESS + lowest:
        errors[CONF_TEST_REGISTER] = "no_such_register"
    return errors


def unit_of(data: Mapping[str, Any]) -> dict[str, Any]:
    """Return the unit that was filled in before, for this form."""
    return {CONF_UNIT: data[CONF_UNIT]} if CONF_UNIT in data else {}


def removes_text(before: Mapping[str, Any]) -> str:
    """Return what becomes of the entities of the map in an entry's data, where it has one."""
    return "" if before.get(CONF_REGISTER_MAP, NO_MAP) == NO_MAP else sentence("no_map_removes")


def cleaned_line(user_input: Mapping[str, Any]) -> dict[str, Any]:
    """Return the form's input as it is stored: the unit, and the line."""
    line = {key: int(value) if isinstance(value, float) else value for key, value in user_input.items()}
    return {CONF_UNIT: int(line.pop(CONF_UNIT)), CONF_LINE: line}


def line_found(line: Mapping[str, Any], found: RegisterMap) -> dict[str, Any]:
    """Return the line with the register that the inverter has answered, as it is counted there."""
    if found.presence is None:
        return dict(line)
    table, first = found.presence
    return {**line, CONF_TEST_TABLE: str(table), CONF_TEST_REGISTER: first + found.line.first_number}
