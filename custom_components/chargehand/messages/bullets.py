"""Lists in texts that the user interface shows as Markdown."""

import re
from collections.abc import Iterable

SPECIAL = re.compile(r"[\\`*\[\]<>~|]|(?<![^\W_])_|_(?![^\W_])")
"""What Markdown would not show as it stands; an underscore inside of a name it does."""


def plain(line: str) -> str:
    """Return a line so that Markdown shows it as it is."""
    return SPECIAL.sub(r"\\\g<0>", line.replace("\n", " "))


def bullets(lines: Iterable[str]) -> str:
    """Return lines as a list."""
    return "\n".join(f"- {plain(line)}" for line in lines)
