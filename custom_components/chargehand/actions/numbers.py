"""Numbers in the fields of actions, as checks of a schema."""

import voluptuous as vol

from ..core.schedule import number_of, shown, whole_of


def number(value: object) -> float:
    """Return a finite number. Raises vol.Invalid for anything else: true, null, infinity, or a text that is none."""
    found = number_of(value)
    if found is None:
        raise vol.Invalid(f"{shown(value)} is not a number: give one, like 40 or 7.5")
    return found


def whole_number(value: object) -> int:
    """Return a whole number. Raises vol.Invalid for anything else."""
    found = whole_of(value)
    if found is None:
        raise vol.Invalid(f"{shown(value)} is not a whole number: give one, like 40")
    return found
