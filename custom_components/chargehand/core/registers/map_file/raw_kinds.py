"""Kinds of raw values: what a register holds, as the document prints it."""

from ..register_map import cure, mistake
from .kinds import LONGEST_TEXT, MOST_VALUES, Kind, Wrong, shown, whole

RAW_VALUE_KIND = whole(-32768, 2**32 - 1)

LARGEST_POWER_W = 10_000_000


def _percent_of(value: object) -> float | str:
    if isinstance(value, str) and 0 < len(value) <= LONGEST_TEXT:
        return value
    if isinstance(value, bool) or not isinstance(value, int | float) or not 0 < value <= LARGEST_POWER_W:
        raise Wrong(mistake("no_power_or_name", value=shown(value)), cure("power_or_name"))
    return value


PERCENT_OF_KIND = Kind(
    _percent_of,
    {
        "type": ["number", "string"],
        "exclusiveMinimum": 0,
        "maximum": LARGEST_POWER_W,
        "minLength": 1,
        "maxLength": LONGEST_TEXT,
    },
)
"""A power in W, or the name of a reading that holds one."""

LARGEST_REGISTER = 0xFFFF


def _is_register(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and 0 <= value <= LARGEST_REGISTER


def _registers(value: object) -> tuple[int, ...]:
    values = value if isinstance(value, list) else [value]
    if not 1 <= len(values) <= MOST_VALUES or not all(map(_is_register, values)):
        raise Wrong(mistake("no_register_value", value=shown(value)), cure("register_values"))
    return tuple(values)


_REGISTER = {"type": "integer", "minimum": 0, "maximum": LARGEST_REGISTER}

REGISTERS_KIND = Kind(
    _registers, {"anyOf": [_REGISTER, {"type": "array", "items": _REGISTER, "minItems": 1, "maxItems": MOST_VALUES}]}
)
"""A register's value, or a list of such."""
