"""Values that stand in a map without quotes: what they are, or that they are ambiguous.

YAML 1.1, which most of Home Assistant's files are read by, and YAML 1.2, which most editors go by, read some of them differently:
0100 is 64 or 100, 1:30 is 90 or a text. Which one an author meant cannot be known, so these are refused.
"""

import re
from collections.abc import Callable, Mapping
from functools import lru_cache

import yaml

from ...reasons import Reason
from ..register_map import cure, mistake

_TEXT = "tag:yaml.org,2002:str"
_INT, _FLOAT, _BOOL, _NULL = (f"tag:yaml.org,2002:{kind}" for kind in ("int", "float", "bool", "null"))

_CORE = tuple(
    (tag, re.compile(pattern))
    for tag, pattern in (
        (_NULL, r"(?:null|Null|NULL|~|)"),
        (_BOOL, r"(?:true|True|TRUE|false|False|FALSE)"),
        (_INT, r"(?:[-+]?[0-9]+|0o[0-7]+|0x[0-9a-fA-F]+)"),
        (_FLOAT, r"[-+]?(?:\.[0-9]+|[0-9]+(?:\.[0-9]*)?)(?:[eE][-+]?[0-9]+)?"),
        (_FLOAT, r"(?:[-+]?\.(?:inf|Inf|INF)|\.(?:nan|NaN|NAN))"),
    )
)
"""The core schema (YAML 1.2.2, 10.3.2)."""

_MAY_BE_MORE = frozenset("-+.0123456789nNtTfF~")
"""What the core schema's values begin with, those of texts left out."""

_LEADING_ZERO = re.compile(r"[-+]?0[0-9]+")

_VALUES: Mapping[str, Callable[[str], object]] = {
    _NULL: lambda _: None,
    _BOOL: lambda text: text.lower() == "true",
    _FLOAT: lambda text: float(text.lower().replace(".inf", "inf").replace(".nan", "nan")),
}

LARGEST_WHOLE = 2**64
"""No register holds more."""

LONGEST_NUMBER = 60
"""Characters; taking apart a number of a hundred thousand digits would only cost time."""

_CURES: tuple[tuple[re.Pattern[str], Callable[[str], Reason]], ...] = (
    (
        re.compile(r"\+?0+[0-9]+"),
        lambda text: cure("unclear_base", decimal=_plainly(text), hexadecimal=f"0x{_plainly(text)}", text=text),
    ),
    (re.compile(r"-0+[0-9]+"), lambda text: _write(f"-{_plainly(text)}", text)),
    (re.compile(r"0[bo][0-7_]+"), lambda text: _write(int(text, 0), text)),
    (re.compile(r"0x[0-9a-fA-F_]+|[-+]?(?:[1-9][0-9_]*|[0-9_]*\.[0-9_]*)"), lambda text: _write(_tidy(text), text)),
    (re.compile(r"[-+]?[0-9.]+[eE][-+]?[0-9]+"), lambda text: cure("unclear_exponent", text=text)),
    (re.compile(r"(?i:yes|no|on|off)"), lambda text: _write(str(text.lower() in {"yes", "on"}).lower(), text)),
)
"""What to write instead of a number or truth, by how it looks."""


class Unclear(Exception):
    """A value that has two readings, and what to write instead."""

    def __init__(self, text: str) -> None:
        """Say why, and what would be right."""
        shown = text if len(text) <= LONGEST_NUMBER else f"{text[: LONGEST_NUMBER - 1]}…"
        super().__init__(text)
        self.reason = mistake("unclear", value=shown)
        cures = (made(text) for pattern, made in _CURES if shown == text and pattern.fullmatch(text))
        self.cure = next(cures, cure("unclear_text", text=shown))


@lru_cache(maxsize=4096)
def plain_value(text: str) -> object:
    """Return the value of a text without quotes. Raises Unclear for one that has two readings.

    A number that no register could hold stays a text.
    """
    kind, core = _yaml_1_1(text), _core(text)
    if kind != core or (core == _INT and _LEADING_ZERO.fullmatch(text)):
        raise Unclear(text)
    if core == _TEXT or (core in (_INT, _FLOAT) and len(text) > LONGEST_NUMBER):
        return text
    if core == _INT:
        number = int(text, 0)
        return number if abs(number) <= LARGEST_WHOLE else text
    return _VALUES[core](text)


def _yaml_1_1(text: str) -> str:
    """Return what YAML 1.1 makes of it, as PyYAML has its rules (yaml.org/type)."""
    for tag, pattern in yaml.SafeLoader.yaml_implicit_resolvers.get(text[:1], ()):
        if pattern.match(text):
            return str(tag)
    return _TEXT


def _core(text: str) -> str:
    """Return what the core schema of YAML 1.2 makes of it."""
    if text and text[0] not in _MAY_BE_MORE:
        return _TEXT
    return next((tag for tag, pattern in _CORE if pattern.fullmatch(text)), _TEXT)


def _write(value: object, text: str) -> Reason:
    return cure("unclear_value", value=value, text=text)


def _plainly(text: str) -> str:
    return text.lstrip("+-").lstrip("0") or "0"


def _tidy(text: str) -> str:
    """Return a number without what only YAML 1.1 allows between its digits, and with a 0 before its point."""
    return re.sub(r"^([-+]?)\.", r"\g<1>0.", text.replace("_", ""))
