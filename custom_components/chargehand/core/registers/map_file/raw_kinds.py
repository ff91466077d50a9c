"""Kinds of raw values: what a register holds, as the document prints it."""

from ..register_map import cure, mistake
from .kinds import MOST_VALUES, Kind, Wrong, shown, whole

RAW_VALUE_KIND = whole(-32768, 2**32 - 1)

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
