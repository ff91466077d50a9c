"""The form that puts Chargehand's blueprints in place, or renews them: only those that the user chooses."""

import voluptuous as vol
from homeassistant.core import HomeAssistant
from homeassistant.helpers import selector
from homeassistant.helpers.translation import async_get_translations

from ..const import DOMAIN
from .blueprint_files import BlueprintState, shipped_blueprints

AUTOMATIONS = "automations"

CHOSEN = {BlueprintState.MISSING, BlueprintState.OLDER}
"""Chosen as the form comes. What the user has changed is only overwritten when the user chooses it."""


async def automations_form(hass: HomeAssistant) -> tuple[vol.Schema, str]:
    """Return the form, and the names of the blueprints that are in place already."""
    texts = await async_get_translations(hass, hass.config.language, "selector", {DOMAIN})
    shipped = await shipped_blueprints(hass)
    offered = [one for one in shipped if one.state is not BlueprintState.CURRENT]
    current = ", ".join(one.name for one in shipped if one.state is BlueprintState.CURRENT)
    options = [
        selector.SelectOptionDict(
            value=one.file,
            label=f"{one.name} ({texts[f'component.{DOMAIN}.selector.blueprint_state.options.{one.state}']})",
        )
        for one in offered
    ]
    if not options:
        return vol.Schema({}), current
    boxes = selector.SelectSelectorConfig(options=options, multiple=True, mode=selector.SelectSelectorMode.LIST)
    chosen = [one.file for one in offered if one.state in CHOSEN]
    return vol.Schema({vol.Required(AUTOMATIONS, default=chosen): selector.SelectSelector(boxes)}), current
