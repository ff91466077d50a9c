"""What a request holds where a number belongs: typed, rendered by a template, or nothing at all."""

import math
import re
from enum import Enum

_DECIMAL = re.compile(r"[-+]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)")
LONGEST = 40
"""Characters of an input that are read, or shown in a message."""

LARGEST_WHOLE = 2**53
"""Up to here a float holds every whole number (IEEE 754-2008, binary64)."""


class NullType(Enum):
    """The type of an explicit null in a request. A template that finds nothing renders null; a field that is left out is None here."""

    NULL = "null"


def number_of(value: object) -> float | None:
    """Return the finite number that is meant; None when there is none, or any doubt about it."""
    if isinstance(value, str) and len(value) <= LONGEST and _DECIMAL.fullmatch(value.strip()):
        return float(value)
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None
    try:
        number = float(value)
    except OverflowError:
        return None
    return number if math.isfinite(number) else None


def whole_of(value: object) -> int | None:
    """Return the whole number that is meant; None when there is none."""
    number = number_of(value)
    return int(number) if number is not None and number.is_integer() and abs(number) <= LARGEST_WHOLE else None


def shown(value: object) -> str:
    """Return a value as a message quotes it."""
    if value is None:
        return "null"
    try:
        text = repr(value)
    except ValueError:
        # Python writes down no number of more than some thousand digits.
        return "an endless number"
    return text if len(text) <= LONGEST else f"{text[: LONGEST - 1]}…"
