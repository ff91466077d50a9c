"""Kinds: what a key of a map can take, as a check in words and as a fragment of JSON Schema."""

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass


class Wrong(Exception):
    """A value that the format does not take, and what it would take."""

    def __init__(self, reason: str, cure: str, *, within: object = None) -> None:
        """Keep both; `within` is the key or position inside the value where it is wrong, None for the whole."""
        super().__init__(reason)
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
            raise Wrong(f"{shown(value)} is not a whole number", f"give a whole number from {low} to {high}")
        if not low <= value <= high:
            raise Wrong(f"{value} is out of range", f"give a whole number from {low} to {high}")
        return value

    return Kind(check, {"type": "integer", "minimum": low, "maximum": high})


LARGEST_NUMBER = 1e30


def number(*, positive: bool = False, nonzero: bool = False) -> Kind:
    """Return a finite number."""

    def check(value: object) -> float | int:
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise Wrong(f"{shown(value)} is not a number", "give a number, without its unit")
        # Written this way round, NaN is refused too.
        if not abs(value) <= LARGEST_NUMBER:
            raise Wrong(f"{value!r} is not a number that can be used", "give an ordinary number")
        if positive and value <= 0:
            raise Wrong(f"{value} is not above 0", "give a number above 0")
        if nonzero and value == 0:
            raise Wrong("0 would make every value the same", "give a number other than 0")
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
        raise Wrong(f"{shown(value)} is none of the values that can stand here", f"give one of: {listed}")

    return Kind(check, {"enum": list(options)})


def _written(option: object) -> str:
    """As it has to stand in the file: YAML 1.1 takes an unquoted 24:00 for the number 1440."""
    return f'"{option}"' if isinstance(option, str) and ":" in option else str(option)


def _text(value: object) -> str:
    if not isinstance(value, str) or not value.strip():
        raise Wrong(f"{shown(value)} is not a text", "give a text; put it in quotes when it looks like a number")
    if len(value) > 200:
        raise Wrong("this text is too long", "give at most 200 characters")
    return value


TEXT_KIND = Kind(_text, {"type": "string", "minLength": 1, "maxLength": 200})


def _truth(value: object) -> bool:
    if not isinstance(value, bool):
        raise Wrong(f"{shown(value)} is neither true nor false", "give true or false")
    return value


TRUTH_KIND = Kind(_truth, {"type": "boolean"})


MOST_TEXTS = 1000


def numbered(what: str, low: int, high: int, *, without: Collection[str] = ()) -> Kind:
    """Texts by number: the labels of raw values, the flags of bits. `without` are texts that mean something else already."""

    def check(value: object) -> dict[int, str]:
        if not isinstance(value, dict) or not value:
            raise Wrong(f"{shown(value)} is not a set of {what}", f"give {what} like {{0: standby, 1: running}}")
        _bounded(value, MOST_TEXTS)
        for key, text in value.items():
            if not is_whole(key) or not low <= key <= high:
                cure = f"give whole numbers from {low} to {high}"
                raise Wrong(f"{shown(key)} cannot be a number of the {what}", cure, within=key)
            if not isinstance(text, str) or not text.strip():
                raise Wrong(f"{shown(text)} is not a text", 'put words like "on" and "off" in quotes', within=key)
            if text in without:
                raise Wrong(
                    f"{text} is what Home Assistant shows where there is no value", "give another word", within=key
                )
        if len(set(value.values())) != len(value):
            raise Wrong(f"two of the {what} have the same text", "give each its own text")
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
        raise Wrong(f"there are {len(values):,} here", f"give at most {most:,}")


MOST_VALUES = 100


def _raw_values(value: object) -> tuple[int, ...]:
    if not isinstance(value, list) or not value or not all(is_whole(item) for item in value):
        raise Wrong(f"{shown(value)} is not a list of raw values", "give a list of whole numbers like [0x8000, 0xFFFF]")
    _bounded(value, MOST_VALUES)
    return tuple(value)


RAW_VALUES_KIND = Kind(
    _raw_values, {"type": "array", "items": {"type": "integer"}, "minItems": 1, "maxItems": MOST_VALUES}
)


def _expected(value: object) -> tuple[object, ...]:
    values = value if isinstance(value, list) else [value]
    if not values or not all(isinstance(item, int | float | str) for item in values):
        raise Wrong(f"{shown(value)} is not what a register can hold", "give a number or text, or a list of them")
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
        raise Wrong(f"{shown(value)} is not a range of bits", "give [lowest, highest], each 0 to 15, such as [4, 7]")
    return value[0], value[1]


BIT_RANGE_KIND = Kind(
    _bit_range,
    {"type": "array", "items": {"type": "integer", "minimum": 0, "maximum": 15}, "minItems": 2, "maxItems": 2},
)


def _one_register(value: object) -> dict[str, object]:
    if not isinstance(value, dict) or len(value) != 1 or next(iter(value)) not in ("input", "holding"):
        raise Wrong(f"{shown(value)} names no register", "give {input: N} or {holding: N}")
    if not all(is_whole(item) and 0 <= item <= 65536 for item in value.values()):
        raise Wrong(f"{shown(value)} names no register", "give its number from 0 to 65536")
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
            raise Wrong(f"{shown(value)} is not a list", "give each as a list item; an empty list is []")
        _bounded(value, most)
        return value

    return Kind(check, {"type": "array", "maxItems": most})


ANYTHING_KIND = Kind(lambda value: value, {})
"""Checked further by the section that it is."""
