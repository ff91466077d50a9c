"""Texts of the translations in English, for where there is no Home Assistant: the command line, and errors in a log."""

import json
from collections.abc import Mapping
from pathlib import Path

TEXTS: Mapping[str, str] = {
    key: text["message"]
    for key, text in json.loads((Path(__file__).parents[1] / "translations" / "en.json").read_text(encoding="utf-8"))[
        "exceptions"
    ].items()
}
"""Read on import, which Home Assistant does off the event loop; an error may be put into words on it."""


def english(key: str, /, **values: object) -> str:
    """Return a text with its values filled in; the key where there is no such text."""
    return TEXTS.get(key, key).format(**values)
