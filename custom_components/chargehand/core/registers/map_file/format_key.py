"""One key of the format: a row of its tables."""

from dataclasses import dataclass

from ...english import english
from .kinds import Kind


@dataclass(frozen=True, slots=True)
class Key:
    """A row: what a key takes, what it means, its default, and whether it has to be there."""

    kind: Kind
    meaning: str
    default: object = None
    required: bool = False
    text: str | None = None
    """The key of the meaning among the texts, without `map_key_`; what can be missing is asked for with it."""


def asked(kind: Kind, text: str, *, required: bool = True) -> Key:
    """Return a key that has to be there, at least somewhere; its meaning is a text of the translations."""
    return Key(kind, english(f"map_key_{text}"), required=required, text=text)
