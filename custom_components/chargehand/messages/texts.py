"""Texts of the translations, by key and values: the only place where messages become words."""

from homeassistant.core import callback
from homeassistant.helpers.translation import async_get_exception_message

from ..const import DOMAIN


@callback
def text(key: str, **values: object) -> str:
    """Return a text with its values filled in. A full stop at its end is left out, as the platform has it."""
    return async_get_exception_message(DOMAIN, key, {name: str(value) for name, value in values.items()})
