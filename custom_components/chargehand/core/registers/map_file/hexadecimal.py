"""Numbers that a document writes in hexadecimal and YAML takes for text."""

import re

_SUFFIX = re.compile(r"([0-9A-F]{1,8})H", re.IGNORECASE)
_BARE = re.compile(r"(?=.*[0-9])(?=.*[A-F])([0-9A-F]{2,8})", re.IGNORECASE)


def hexadecimal(value: object) -> int | None:
    """Return the number that a text such as `A5A5H` or `55AA` means in hexadecimal, None where it means none."""
    if not isinstance(value, str):
        return None
    found = _SUFFIX.fullmatch(value) or _BARE.fullmatch(value)
    return int(found[1], 16) if found else None
