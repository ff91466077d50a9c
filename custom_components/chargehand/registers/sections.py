"""One section of a map checked against its table, with every mistake noted in words."""

from collections.abc import Iterable, Mapping
from difflib import get_close_matches

import voluptuous as vol

from .document import Document, Path_
from .format import Key, schema
from .kinds import Wrong, shown

type Section = dict[str, object]

PLACES = ("input", "holding", "at")
"""Keys that name a register; in each section it is clear which of them was meant."""


def checked(document: Document, path: Path_, data: object, keys: Mapping[str, Key]) -> Section | None:
    """The section with defaults filled in, or None when anything is wrong with it; all of it is noted."""
    if data is None:
        document.wrong(path, "there is nothing here", "fill it in or leave it out")
        return None
    if not isinstance(data, dict):
        document.wrong(path, f"{shown(data)} is not a set of keys", f"give keys such as {', '.join(list(keys)[:3])}")
        return None
    found = len(document.problems)
    mistyped = {near for key in data if key not in keys and (near := _unknown(document, path, key, keys))}
    try:
        section: Section = schema(keys)({key: value for key, value in data.items() if key in keys})
    except vol.MultipleInvalid as invalid:
        for error in invalid.errors:
            _note(document, path, error, keys, mistyped)
        return None
    if len(document.problems) > found:
        return None
    return {name: key.default for name, key in keys.items() if key.default is not None} | section


def nearest(word: object, known: Iterable[str]) -> str | None:
    """The known word that was most likely meant."""
    near = get_close_matches(str(word)[:60], list(known), n=1, cutoff=0.6)
    return near[0] if near else None


def _unknown(document: Document, path: Path_, key: object, keys: Mapping[str, Key]) -> str | None:
    near = nearest(key, keys)
    if key in PLACES and near is None:
        near = next((place for place in PLACES if place in keys), None)
    cure = f"did you mean {near}?" if near else f"known here are {', '.join(keys)}"
    document.wrong((*path, str(key)), "this key is not known here", cure)
    return near


def _note(document: Document, path: Path_, error: vol.Invalid, keys: Mapping[str, Key], mistyped: set[str]) -> None:
    where = (*path, *(str(part) for part in error.path))
    if isinstance(error, Wrong):
        document.wrong(where, error.reason, error.cure)
        return
    # What is left of the library's own errors is a key that is missing; one that is only mistyped was noted as that.
    name = str(error.path[-1])
    if name not in mistyped:
        document.wrong(where, "this key is missing", f"give {name}: {keys[name].meaning}")
