"""Numbers in the fields of actions, as checks of a schema."""

from collections.abc import Callable
from typing import Any

import voluptuous as vol

from ..core.schedule import number_of, shown, whole_of
from ..messages import text


def number(value: object) -> float:
    """Return a finite number. Raises vol.Invalid for anything else: true, null, infinity, or a text that is none."""
    found = number_of(value)
    if found is None:
        raise vol.Invalid(text("no_number", value=shown(value)))
    return found


def whole_number(value: object) -> int:
    """Return a whole number. Raises vol.Invalid for anything else."""
    found = whole_of(value)
    if found is None:
        raise vol.Invalid(text("no_whole_number", value=shown(value)))
    return found


def or_empty(check: Callable[[Any], Any]) -> Callable[[Any], Any]:
    """Return a check that takes null and an empty text for null: an input that was not filled in counts as left out."""
    checked = vol.Schema(check)
    return lambda value: None if value is None or value == "" else checked(value)
