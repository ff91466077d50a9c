"""Kinds of what says where a value is: registers, and those that do not follow each other."""

from ..register_map import cure, mistake
from .kinds import Kind, Wrong, shown, whole

LAST_NUMBER = 65536
"""The highest number that a register has, where they are counted from 1."""

_NUMBER = whole(0, LAST_NUMBER)


def _address(value: object) -> object:
    """Return a register's number. One of six digits begins with the digit of its table, and no register has such a number."""
    if isinstance(value, int) and not isinstance(value, bool):
        table, number = divmod(value, 100_000)
        if table in (3, 4) and 1 <= number <= LAST_NUMBER:
            raise Wrong(mistake("table_digit", number=value), cure("without_digit", number=number))
    return _NUMBER.check(value)


ADDRESS_KIND = Kind(_address, _NUMBER.schema)

MOST_WORDS = 4
"""Registers of the longest number."""


def _words(value: object) -> tuple[int, ...]:
    if not isinstance(value, list) or not 2 <= len(value) <= MOST_WORDS:
        raise Wrong(mistake("no_words", value=shown(value)), cure("words"))
    for item in value:
        _address(item)
    if len(set(value)) < len(value):
        raise Wrong(mistake("word_twice", value=shown(value)), cure("words"))
    return tuple(value)


WORDS_KIND = Kind(
    _words,
    {
        "type": "array",
        "items": _NUMBER.schema,
        "minItems": 2,
        "maxItems": MOST_WORDS,
        "uniqueItems": True,
    },
)
