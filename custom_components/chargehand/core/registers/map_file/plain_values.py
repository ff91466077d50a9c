"""Values that stand in a map without quotes: what they are, or that they are ambiguous.

YAML 1.1, which most of Home Assistant's files are read by, and YAML 1.2, which most editors go by, read some of them differently:
0100 is 64 or 100, 1:30 is 90 or a text. Which one an author meant cannot be known, so these are refused.
"""

import re
from collections.abc import Callable, Mapping
from functools import lru_cache

import yaml

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

_CURES: tuple[tuple[re.Pattern[str], Callable[[str], str]], ...] = (
    (
        re.compile(r"\+?0+[0-9]+"),
        lambda text: f"write {_plainly(text)} if it is decimal, 0x{_plainly(text)} if it is hexadecimal",
    ),
    (re.compile(r"-0+[0-9]+"), lambda text: f"write -{_plainly(text)}"),
    (re.compile(r"0[bo][0-7_]+"), lambda text: f"write {int(text, 0)}"),
    (re.compile(r"0x[0-9a-fA-F_]+|[-+]?(?:[1-9][0-9_]*|[0-9_]*\.[0-9_]*)"), lambda text: f"write {_tidy(text)}"),
    (re.compile(r"[-+]?[0-9.]+[eE][-+]?[0-9]+"), lambda _: "write it out, without an exponent"),
    (re.compile(r"(?i:yes|no|on|off)"), lambda text: f"write {str(text.lower() in {'yes', 'on'}).lower()}"),
)
"""What to write instead of a number or truth, by how it looks."""


class Unclear(Exception):
    """A value that has two readings, and what to write instead."""

    def __init__(self, text: str) -> None:
        """Say why, and what would be right."""
        shown = text if len(text) <= LONGEST_NUMBER else f"{text[: LONGEST_NUMBER - 1]}…"
        super().__init__(text)
        self.reason = f"{shown} can be read in two ways: as YAML 1.1 has it, and as YAML 1.2 has it"
        as_text = f'write it in quotes, "{shown}"'
        cures = (cure(text) for pattern, cure in _CURES if shown == text and pattern.fullmatch(text))
        self.cure = next((f"{cure}; if it is a text, {as_text}" for cure in cures), as_text)


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


def _plainly(text: str) -> str:
    return text.lstrip("+-").lstrip("0") or "0"


def _tidy(text: str) -> str:
    """Return a number without what only YAML 1.1 allows between its digits, and with a 0 before its point."""
    return re.sub(r"^([-+]?)\.", r"\g<1>0.", text.replace("_", ""))
