"""Pages keep what was typed into a field until its entity's state is another one: what was not taken must not stay there."""

import asyncio

from homeassistant.const import STATE_UNKNOWN, Platform
from homeassistant.core import State, split_entity_id
from homeassistant.helpers.entity import Entity

PAUSE = 0.2
"""Seconds for which a field is empty: a page that gets two states at once draws the second only, and sees nothing new in it."""

FIELDS = frozenset({Platform.NUMBER, Platform.TIME})
"""What a page draws as a field. It sets one when the value is another than it drew last; a switch or a select, with every new state."""


async def redraw(entity: Entity, before: State | None) -> None:
    """Let pages draw an entity again that still has the state `before`, whatever was asked of it."""
    states = entity.hass.states
    if before is None or (now := states.get(entity.entity_id)) is None or now.state != before.state:
        return
    if split_entity_id(entity.entity_id)[0] not in FIELDS:
        states.async_set(entity.entity_id, now.state, now.attributes, force_update=True)
        return
    states.async_set(entity.entity_id, STATE_UNKNOWN, now.attributes)
    try:
        await asyncio.sleep(PAUSE)
    finally:
        entity.async_write_ha_state()
