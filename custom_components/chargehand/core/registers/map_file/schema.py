"""The format as a JSON Schema (draft 2020-12), so that editors complete and check maps as they are written.

Made from the same tables as the check at load. It says what one key takes; only the load checks what keys mean together.
"""

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType

from .format import (
    ARMED_BY,
    CLOCK,
    DAYS_OF_ALL,
    FIELDS,
    IRREGULAR,
    LIMITS,
    LINE,
    LIST,
    LIST_FIELDS,
    MAP,
    REGULAR,
    SCHEDULE,
    SHARED_LIMIT,
    SPAN,
)
from .format_around import AFTER_WRITE, BEFORE_WRITE
from .format_key import Key
from .format_of_values import AT, CONTROL, DIRECTION, HOLDING, IDENTITY, READING, SUMMAND
from .format_slots import MODE

type Schema = dict[str, object]

SCHEMA = Path(__file__).parents[3] / "maps" / "map.schema.json"
"""The file that editors are pointed at; it is installed beside the bundled maps."""

NAMES: Schema = {"pattern": "^[a-z][a-z0-9_]*$", "maxLength": 60}
ENDS: list[Schema] = [{"required": ["end"]}, {"required": ["duration"]}]
ONE_TABLE: list[Schema] = [{"required": ["input"]}, {"required": ["holding"]}]
PAIRS: list[Schema] = [{"required": ["charging", "discharging"]}, {"required": ["importing", "exporting"]}]
ONE_PLACE: list[Schema] = [*ONE_TABLE, {"required": ["words", "table"]}]


def map_schema() -> Schema:
    """Return the schema of a whole map."""
    around: dict[str, Schema] = {
        "before_write": {"items": _object(BEFORE_WRITE)},
        "after_write": {"items": _object(AFTER_WRITE)},
    }
    sections: dict[str, Schema] = {
        "line": _object(LINE, {"no_read": {"type": "array", "items": _object(SPAN)}}),
        "identity": _named(_object(IDENTITY) | {"oneOf": ONE_PLACE}),
        "readings": _named(_reading()),
        "controls": _named(_object(CONTROL, around)),
        "clock": _object(CLOCK, around),
        "schedule": _object(
            SCHEDULE,
            {
                "armed_by": _object(ARMED_BY),
                "charge": _side("charge"),
                "discharge": _side("discharge"),
                "list_of_times": _list(),
                "days": _object(DAYS_OF_ALL),
                **around,
            },
        )
        | {"anyOf": [{"required": [key]} for key in ("charge", "discharge", "list_of_times")]},
    }
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Chargehand register map, format 1",
        **_object(MAP, sections),
    }


def _object(keys: Mapping[str, Key], inside: Mapping[str, Schema] | None = None) -> Schema:
    """Return a section: each key with what it takes; `inside` says the rest of it for keys that are sections themselves."""
    schema: Schema = {
        "type": "object",
        "properties": {name: _value(key, (inside or {}).get(name)) for name, key in keys.items()},
        "additionalProperties": False,
    }
    required = [name for name, key in keys.items() if key.required]
    return schema | ({"required": required} if required else {})


def _value(key: Key, inside: Schema | None) -> Schema:
    schema: Schema = {**key.kind.schema, **(inside or {}), "description": key.meaning}
    return schema if key.default is None else schema | {"default": key.default}


def _reading() -> Schema:
    inside: dict[str, Schema] = {
        "sum": {"type": "array", "minItems": 2, "items": _object(SUMMAND) | {"oneOf": ONE_PLACE}},
        "direction": _object(DIRECTION) | {"oneOf": ONE_TABLE, "anyOf": PAIRS},
    }
    return _object(READING, inside) | {"oneOf": [*ONE_PLACE, {"required": ["sum"]}]}


def _named(item: Schema) -> Schema:
    return {"type": "object", "propertyNames": NAMES, "additionalProperties": item}


def _fields(side: str, place: str, row: Key) -> Schema:
    own_mode = MappingProxyType({**MODE, side: replace(MODE[side], required=True)})
    return _fields_of({**FIELDS, "mode": own_mode}, place, row) | {"required": ["start"], "oneOf": ENDS}


def _fields_of(known: Mapping[str, Mapping[str, Key]], place: str, row: Key) -> Schema:
    fields: Schema = {name: _object({place: replace(row, required=True), **keys}) for name, keys in known.items()}
    return {"type": "object", "properties": fields, "additionalProperties": False}


def _list() -> Schema:
    """Return a list of times: each field of its first point."""
    fields = _fields_of(LIST_FIELDS, "holding", HOLDING) | {"required": ["start", "charging"]}
    return _object(LIST, {"fields": fields})


def _side(side: str) -> Schema:
    """Windows: by count and stride, or each with addresses of its own."""
    windows: Schema = {"type": "array", "minItems": 1, "items": _fields(side, "holding", HOLDING)}
    shared: Schema = {
        "type": "object",
        "properties": {name: _object({**SHARED_LIMIT, **keys}) for name, keys in LIMITS.items()},
        "additionalProperties": False,
        "minProperties": 1,
    }
    return {
        "oneOf": [
            _object(REGULAR, {"fields": _fields(side, "at", AT), "shared": shared}),
            _object(IRREGULAR, {"windows": windows, "shared": shared}),
        ]
    }
