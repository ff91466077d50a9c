"""Kinds: what a key of a map can take, as a check in words and as a fragment of JSON Schema."""

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass

from ...reasons import Reason
from ..register_map import cure, mistake
from .hexadecimal import hexadecimal


class Wrong(Exception):
    """A value that the format does not take, and what it would take."""

    def __init__(self, reason: Reason, cure: Reason, *, within: object = None) -> None:
        """Keep both; `within` is the key or position inside the value where it is wrong, None for the whole."""
        super().__init__(str(reason))
        self.reason = reason
        self.cure = cure
        self.within = () if within is None else (str(within),)


@dataclass(frozen=True, slots=True)
class Kind:
    """What a key takes: the check, and the same as a fragment of JSON Schema."""

    check: Callable[[object], object]
    schema: Mapping[str, object]


def shown(value: object) -> str:
    """Return a value of the file as it is quoted in a message: at most 60 characters of it."""
    text = repr(value)
    return text if len(text) <= 60 else f"{text[:57]}…"


def is_whole(value: object) -> bool:
    """Whether it is a whole number; true and false are none."""
    return isinstance(value, int) and not isinstance(value, bool)


def whole(low: int, high: int) -> Kind:
    """Return a whole number from `low` to `high`."""

    def check(value: object) -> int:
        if not isinstance(value, int) or isinstance(value, bool):
            right = cure("whole_number", low=low, high=high)
            if (meant := hexadecimal(value)) is not None and low <= meant <= high:
                right = cure("hexadecimal", number=f"0x{meant:X}")
            raise Wrong(mistake("no_whole_number", value=shown(value)), right)
        if not low <= value <= high:
            raise Wrong(mistake("out_of_range", value=value), cure("whole_number", low=low, high=high))
        return value

    return Kind(check, {"type": "integer", "minimum": low, "maximum": high})


LARGEST_NUMBER = 1e30


def number(*, positive: bool = False, nonzero: bool = False) -> Kind:
    """Return a finite number."""

    def check(value: object) -> float | int:
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise Wrong(mistake("no_number", value=shown(value)), cure("number"))
        # Written this way round, NaN is refused too.
        if not abs(value) <= LARGEST_NUMBER:
            raise Wrong(mistake("odd_number", value=repr(value)), cure("ordinary_number"))
        if positive and value <= 0:
            raise Wrong(mistake("not_above_0", value=value), cure("above_0"))
        if nonzero and value == 0:
            raise Wrong(mistake("all_the_same"), cure("other_than_0"))
        return value

    schema: dict[str, object] = {"type": "number"}
    if positive:
        schema["exclusiveMinimum"] = 0
    if nonzero:
        schema["not"] = {"const": 0}
    return Kind(check, schema)


def choice(*options: object) -> Kind:
    """One of a few values."""
    listed = ", ".join(_written(option) for option in options)

    def check(value: object) -> object:
        for option in options:
            if value == option and type(value) is type(option):
                return value
        raise Wrong(mistake("no_choice", value=shown(value)), cure("choice", options=listed))

    return Kind(check, {"enum": list(options)})


def _written(option: object) -> str:
    """As it has to stand in the file: YAML 1.1 takes an unquoted 24:00 for the number 1440."""
    return f'"{option}"' if isinstance(option, str) and ":" in option else str(option)


LONGEST_TEXT = 200


def _text(value: object) -> str:
    if not isinstance(value, str) or not value.strip():
        raise Wrong(mistake("no_text", value=shown(value)), cure("text"))
    if len(value) > LONGEST_TEXT:
        raise Wrong(mistake("text_too_long"), cure("most_characters", most=LONGEST_TEXT))
    return value


TEXT_KIND = Kind(_text, {"type": "string", "minLength": 1, "maxLength": LONGEST_TEXT})


def _truth(value: object) -> bool:
    if not isinstance(value, bool):
        raise Wrong(mistake("no_truth", value=shown(value)), cure("truth"))
    return value


TRUTH_KIND = Kind(_truth, {"type": "boolean"})


MOST_TEXTS = 1000


def numbered(what: str, low: int, high: int, *, without: Collection[str] = ()) -> Kind:
    """Texts by number: the labels of raw values, the flags of bits. `without` are texts that mean something else already."""

    def check(value: object) -> dict[int, str]:
        if not isinstance(value, dict) or not value:
            example = "{0: standby, 1: running}"
            raise Wrong(mistake("no_texts", value=shown(value), what=what), cure("texts", what=what, example=example))
        _bounded(value, MOST_TEXTS)
        for key, text in value.items():
            if not is_whole(key) or not low <= key <= high:
                reason = mistake("no_number_of_texts", value=shown(key), what=what)
                raise Wrong(reason, cure("whole_numbers", low=low, high=high), within=key)
            if not isinstance(text, str) or not text.strip():
                raise Wrong(mistake("no_text", value=shown(text)), cure("quotes"), within=key)
            if text in without:
                raise Wrong(mistake("shown_for_none", text=text), cure("other_word"), within=key)
        if len(set(value.values())) != len(value):
            raise Wrong(mistake("same_text", what=what), cure("own_texts"))
        return value

    digits = "^-?[0-9]+$" if low < 0 else "^[0-9]+$"
    text: dict[str, object] = {"type": "string", "minLength": 1}
    if without:
        text["not"] = {"enum": list(without)}
    return Kind(
        check,
        {
            "type": "object",
            "patternProperties": {digits: text},
            "additionalProperties": False,
            "minProperties": 1,
            "maxProperties": MOST_TEXTS,
        },
    )


def _bounded(values: list[object] | dict[object, object], most: int) -> None:
    if len(values) > most:
        raise Wrong(mistake("too_many", count=f"{len(values):,}"), cure("at_most", most=f"{most:,}"))


MOST_VALUES = 100


def _raw_values(value: object) -> tuple[int, ...]:
    if not isinstance(value, list) or not value or not all(is_whole(item) for item in value):
        raise Wrong(mistake("no_raw_values", value=shown(value)), cure("raw_values"))
    _bounded(value, MOST_VALUES)
    return tuple(value)


RAW_VALUES_KIND = Kind(
    _raw_values, {"type": "array", "items": {"type": "integer"}, "minItems": 1, "maxItems": MOST_VALUES}
)


def _expected(value: object) -> tuple[object, ...]:
    values = value if isinstance(value, list) else [value]
    if not values or not all(isinstance(item, int | float | str) for item in values):
        raise Wrong(mistake("not_held", value=shown(value)), cure("held"))
    _bounded(values, MOST_VALUES)
    return tuple(values)


_ONE = {"type": ["number", "string", "boolean"]}
EXPECTED_KIND = Kind(
    _expected, {"anyOf": [_ONE, {"type": "array", "items": _ONE, "minItems": 1, "maxItems": MOST_VALUES}]}
)


def _bit_range(value: object) -> tuple[int, int]:
    if (
        not isinstance(value, list)
        or len(value) != 2
        or not all(is_whole(item) and 0 <= item <= 15 for item in value)
        or value[0] >= value[1]
    ):
        raise Wrong(mistake("no_bit_range", value=shown(value)), cure("bit_range"))
    return value[0], value[1]


BIT_RANGE_KIND = Kind(
    _bit_range,
    {"type": "array", "items": {"type": "integer", "minimum": 0, "maximum": 15}, "minItems": 2, "maxItems": 2},
)


def _one_register(value: object) -> dict[str, object]:
    if not isinstance(value, dict) or len(value) != 1 or next(iter(value)) not in ("input", "holding"):
        raise Wrong(mistake("no_register_named", value=shown(value)), cure("give", choice="{input: N}, {holding: N}"))
    if not all(is_whole(item) and 0 <= item <= 65536 for item in value.values()):
        raise Wrong(mistake("no_register_named", value=shown(value)), cure("register_number", low=0, high=65536))
    return value


ONE_REGISTER_KIND = Kind(
    _one_register,
    {
        "type": "object",
        "properties": {table: {"type": "integer", "minimum": 0, "maximum": 65536} for table in ("input", "holding")},
        "additionalProperties": False,
        "minProperties": 1,
        "maxProperties": 1,
    },
)


def list_of(most: int) -> Kind:
    """Return a list of at most so many items, each of which is checked further by the section that it is."""

    def check(value: object) -> list[object]:
        if not isinstance(value, list):
            raise Wrong(mistake("no_list", value=shown(value)), cure("list"))
        _bounded(value, most)
        return value

    return Kind(check, {"type": "array", "maxItems": most})


ANYTHING_KIND = Kind(lambda value: value, {})
"""Checked further by the section that it is."""
