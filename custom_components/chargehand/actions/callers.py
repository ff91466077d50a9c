"""Who asked for a change, as far as the platform's context says."""

from homeassistant.core import Context, HomeAssistant

from ..messages import text

ASKERS = ("automation", "script")
NOBODY = "by_nobody"
"""The text for an asker that is not known."""


async def caller(hass: HomeAssistant, context: Context | None, via: str) -> str:
    """Return an automation or script, else a user, then what it went through: `automation.winter (action apply_schedule)`."""
    return f"{await _asker(hass, context)} ({via})"


def asker(by: str) -> str | None:
    """Return the automation, script or user of what `caller` has returned; None where none is known."""
    who = by.partition(" (")[0]
    return None if who == text(NOBODY) else who


async def _asker(hass: HomeAssistant, context: Context | None) -> str:
    if context is None:
        return text(NOBODY)
    for domain in ASKERS:
        for state in hass.states.async_all(domain):
            # A run writes its own context to its entity before it calls anything.
            if state.context.id in (context.id, context.parent_id):
                return state.entity_id
    if context.user_id is not None:
        user = await hass.auth.async_get_user(context.user_id)
        if user is not None and user.name:
            return user.name
    return text(NOBODY)
