"""Texts of the translations, by key and values: the only place where messages become words."""

from collections.abc import Sequence
from contextlib import suppress

from homeassistant.core import HomeAssistant, async_get_hass, callback
from homeassistant.helpers.translation import async_get_cached_translations, async_load_integrations

from ..const import DOMAIN


async def load_texts(hass: HomeAssistant) -> None:
    """Have the texts at hand. The platform loads them itself once an inverter was added; a form comes before that."""
    await async_load_integrations(hass, {DOMAIN})


@callback
def text(key: str, /, **values: object) -> str:
    """Return a text with its values filled in. A full stop at its end is left out, as `async_get_exception_message` has it.

    In English, as that has it too; but it needs an inverter to have been set up.
    """
    message = async_get_cached_translations(async_get_hass(), "en", "exceptions", DOMAIN).get(
        f"component.{DOMAIN}.exceptions.{key}.message", key
    )
    with suppress(KeyError):
        return message.rstrip(".").format(**{name: str(value) for name, value in values.items()})
    return message


@callback
def sentence(key: str, **values: object) -> str:
    """Return a text with a full stop at its end."""
    return f"{text(key, **values)}."


@callback
def ended(words: str) -> str:
    """Return words that may come with a full stop or without, with one."""
    return f"{words.rstrip('.')}."


@callback
def either_text(values: Sequence[object]) -> str:
    """Return values of which one is expected, in one line."""
    *others, last = map(str, values)
    return text("either", others=", ".join(others), last=last) if others else last
