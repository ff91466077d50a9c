"""The format as a Markdown page for those who write maps, made from the same tables as the check at load."""

from collections.abc import Mapping, Sequence
from pathlib import Path

from ..register_map import KNOWN_READINGS, NUMBERS
from .format import (
    ACTIVE,
    ARMED_BY,
    CLOCK,
    DAYS_OF_ALL,
    DURATION,
    FORMAT,
    IRREGULAR,
    LINE,
    LIST,
    LIST_FIELDS,
    MAP,
    POWER,
    REGULAR,
    SCHEDULE,
    SHARED_LIMIT,
    SPAN,
    TIME,
)
from .format_around import AFTER_WRITE, BEFORE_WRITE
from .format_key import Key
from .format_of_values import CONTROL, DIRECTION, IDENTITY, READING, SUMMAND
from .format_slots import DAYS, MODE

REFERENCE = Path(__file__).parents[5] / "docs" / "map-reference.md"
"""Where the page stands in the repository; an installed integration comes without it."""

SECTIONS: tuple[tuple[str, str, Mapping[str, Key]], ...] = (
    ("The file", "", MAP),
    ("line", "All optional.", LINE),
    ("line.no_read", "A list; each item:", SPAN),
    ("identity", "By name; each:", IDENTITY),
    ("readings", "By name; each:", READING),
    ("readings, sum", "A list of at least two; each:", SUMMAND),
    (
        "readings, direction",
        "`charging` and `discharging`, or `importing` and `exporting`; a value that is not given means that there is none:",
        DIRECTION,
    ),
    (
        "controls",
        "By name; each is a switch with `bit`, or `on` and `off`, a select with `labels`, else a number:",
        CONTROL,
    ),
    ("clock", "", CLOCK),
    ("schedule", "", SCHEDULE),
    ("schedule.armed_by", "", ARMED_BY),
    ("schedule.charge and schedule.discharge", "Windows at even distances:", REGULAR),
    ("schedule.charge and schedule.discharge, other layouts", "Instead of the above:", IRREGULAR),
    ("start and end of a window", "And `at` (even distances) or `holding`:", TIME),
    ("duration of a window", "Instead of `end`, and `at` or `holding`:", DURATION),
    ("current, power and stop_level of a window", "And `at` or `holding`; `percent_of` only at power:", POWER),
    ("shared", "Each of current, power and stop_level, with the keys above and:", SHARED_LIMIT),
    ("active of a window", "And `at` or `holding`:", ACTIVE),
    ("mode of a window", "And `at` or `holding`:", MODE),
    ("days of a window", "And `at` or `holding`:", DAYS),
    ("schedule.days", "", DAYS_OF_ALL),
    ("schedule.list_of_times", "", LIST),
    ("start of a list of times", "And `holding`, that of the first point:", LIST_FIELDS["start"]),
    ("charging of a list of times", "And `holding`, that of the first point:", ACTIVE),
    (
        "current, power and stop_level of a list of times",
        "And `holding`, that of the first point; `percent_of` only at power:",
        POWER,
    ),
    ("before_write of the schedule, a control or the clock", "A list; each item:", BEFORE_WRITE),
    ("after_write of the schedule, a control or the clock", "A list; each item:", AFTER_WRITE),
)

HEAD = (
    "Every key of a [register map](register-maps.md). A key that is not listed here is an error.",
    "This page is made from the tables that maps are checked against, by `python -m custom_components.chargehand.core.registers`.",
)


TAKES = {"array": "list", "string": "text", "boolean": "`true`, `false`"}
"""What JSON Schema's types are called."""


def reference() -> str:
    """Return the whole page."""
    parts = [f"# Register map, format {FORMAT}", *HEAD]
    for title, note, keys in SECTIONS:
        parts += [f"## {title}", *([note] if note else []), _keys(keys)]
    parts += ["## Types", _types(), "## Known readings", _known()]
    return "\n\n".join(parts) + "\n"


def _keys(keys: Mapping[str, Key]) -> str:
    rows = [(f"`{name}`", _takes(key.kind.schema), _default(key), key.meaning) for name, key in keys.items()]
    return _table(("key", "takes", "default", "meaning"), rows)


def _default(key: Key) -> str:
    if key.default is None:
        return "required" if key.required else ""
    text = str(key.default).lower() if isinstance(key.default, bool) else str(key.default)
    return f"`{text}`"


def _takes(schema: Mapping[str, object]) -> str:
    """Return what a key takes, in a few words."""
    match schema:
        case {"enum": [*options]}:
            return ", ".join(f"`{option}`" for option in options)
        case {"type": "integer", "minimum": low, "maximum": high}:
            return f"whole number {low}…{high}"
        case {"type": "number", "exclusiveMinimum": 0}:
            return "number above 0"
        case {"type": "number", "not": _}:
            return "number other than 0"
        case {"type": "object", "patternProperties": _}:
            return "texts by number"
        case {"type": "object", "properties": _}:
            return "`{input: N}` or `{holding: N}`"
        case {"type": "array", "items": {"maximum": 15}}:
            return "[lowest, highest], each 0…15"
        case {"type": "array", "items": {"type": "integer"}}:
            return "list of whole numbers"
        case {"anyOf": _}:
            return "value, or list of values"
        case {"type": ["number", "string"]}:
            return "number or name"
        case {"type": str(kind)}:
            return TAKES.get(kind, kind)
    return "see below"


def _types() -> str:
    rows = [
        (f"`{name}`", str(kind.registers), f"{kind.lowest:.10g} … {kind.highest:.10g}")
        for name, kind in NUMBERS.items()
    ]
    return _table(
        ("type", "registers", "holds"),
        [
            *rows,
            ("`text`", "`length`", "two characters a register, high byte first unless `byte_order` says otherwise"),
        ],
    )


def _known() -> str:
    rows = [
        (f"`{key}`", known.unit or "", known.device_class or "", known.state_class or "", known.positive or "")
        for key, known in KNOWN_READINGS.items()
    ]
    return _table(("name", "unit", "device class", "state class", "shown positive while"), rows)


def _table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    lines = [head, ["---"] * len(head), *rows]
    return "\n".join(f"| {' | '.join(cell.replace('|', '\\|') for cell in line)} |" for line in lines)
