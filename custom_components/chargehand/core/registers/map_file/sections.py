"""One section of a map checked against its table, with every mistake noted in words."""

from collections.abc import Mapping

from ..register_map import cure, mistake
from .document import Document, Path_
from .format import CLOCK, LINE, SCHEDULE
from .format_key import Key
from .format_of_values import CONTROL, IDENTITY, READING
from .kinds import Wrong, shown

HOMES: Mapping[str, Mapping[str, Key]] = {
    "line": LINE,
    "identity": IDENTITY,
    "readings": READING,
    "controls": CONTROL,
    "clock": CLOCK,
    "schedule": SCHEDULE,
}
"""The sections that keys belong to, for those that stand in the wrong one."""

type Section = dict[str, object]

PLACES = ("input", "holding", "at")
"""Keys that name a register; in each section it is clear which of them was meant."""


def checked(document: Document, path: Path_, data: object, keys: Mapping[str, Key]) -> Section | None:
    """Return the section with defaults filled in, or None when anything is wrong with it; all of it is noted."""
    if data is None:
        document.wrong(path, mistake("nothing"), cure("fill_in"))
        return None
    if not isinstance(data, dict):
        right = cure("keys_such_as", keys=", ".join(list(keys)[:3]))
        document.wrong(path, mistake("no_keys", value=shown(data)), right)
        return None
    found = document.mistakes
    mistyped = {near for key in data if key not in keys and (near := _unknown(document, path, key, keys))}
    section: Section = {name: key.default for name, key in keys.items() if key.default is not None}
    for name, value in data.items():
        if name in keys:
            try:
                section[name] = keys[name].kind.check(value)
            except Wrong as wrong:
                document.wrong((*path, name, *wrong.within), wrong.reason, wrong.cure)
    for name, key in keys.items():
        # A key that is only mistyped was noted as that.
        if key.required and name not in data and name not in mistyped:
            document.wrong((*path, name), mistake("missing"), cure("give_key", key=name, meaning=key.text))
    if document.mistakes > found:
        return None
    return section


def _unknown(document: Document, path: Path_, key: object, keys: Mapping[str, Key]) -> str | None:
    near = document.nearest(key, keys)
    if key in PLACES and near is None:
        near = next((place for place in PLACES if place in keys), None)
    homes = [name for name, others in HOMES.items() if key in others]
    if homes and near not in PLACES:
        # A key of the format is no slip of the pen: what it says cannot be said here.
        near = None
        right = cure("belongs_elsewhere", choice=", ".join(homes), keys=", ".join(keys))
    else:
        right = cure("meant", near=near) if near else cure("known_here", keys=", ".join(keys))
    document.wrong((*path, str(key)), mistake("unknown_key"), right)
    return near
