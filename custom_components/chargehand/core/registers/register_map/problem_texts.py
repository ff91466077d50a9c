"""Mistakes of register maps and their cures: keys of texts and their values until somebody reads them."""

from collections.abc import Callable, Mapping
from functools import reduce

from ...reasons import Reason

type Words = Callable[..., str]
"""Returns the text of a key with values filled in: of Home Assistant's translations, or in English without it."""

LONGEST_VALUE = 1000
"""Characters of a value that are kept; what is shown is cut shorter."""


def mistake(key: str, /, **values: object) -> Reason:
    """Return what is wrong: a text `map_mistake_…` and its values."""
    return Reason(key=f"map_mistake_{key}", values=_kept(values))


def cure(key: str, /, **values: object) -> Reason:
    """Return what would be right: a text `map_cure_…` and its values."""
    return Reason(key=f"map_cure_{key}", values=_kept(values))


def in_words(reason: Reason, words: Words) -> str:
    """Return a mistake or a cure in words."""
    values = {name: SHOWN[name](words, value) if name in SHOWN else value for name, value in reason.values.items()}
    return words(reason.key, **values)


def cut(text: str, longest: int) -> str:
    """Return a text of at most so many characters."""
    return text if len(text) <= longest else f"{text[: longest - 1]}…"


def _kept(values: Mapping[str, object]) -> dict[str, str]:
    return {name: cut(str(value), LONGEST_VALUE) for name, value in values.items()}


def _either(words: Words, options: str) -> str:
    return reduce(lambda others, last: words("either", others=others, last=last), options.split(", "))


SHOWN: Mapping[str, Callable[[Words, str], str]] = {
    "choice": _either,
    "meaning": lambda words, meaning: words(f"map_key_{meaning}"),
}
"""How values are shown to people, by their names; all others as they are."""
