"""Buttons: setting the inverter's clock."""

from homeassistant.components.button import ButtonEntity
from homeassistant.const import EntityCategory, Platform
from homeassistant.core import HomeAssistant
from homeassistant.helpers.entity_platform import AddConfigEntryEntitiesCallback

from .actions import set_clock
from .coordinator import ChargehandConfigEntry, ChargehandCoordinator
from .core.inverter import CLOCK
from .entity import ChargehandEntity, offer

PARALLEL_UPDATES = 1


async def async_setup_entry(
    hass: HomeAssistant, entry: ChargehandConfigEntry, async_add_entities: AddConfigEntryEntitiesCallback
) -> None:
    """Add the button, where there is a clock and control is allowed."""
    coordinator = entry.runtime_data
    settable = coordinator.allow_control and coordinator.inverter.map.clock is not None
    offer(coordinator, Platform.BUTTON, async_add_entities, [SetClock(coordinator)] if settable else [])


class SetClock(ChargehandEntity, ButtonEntity):
    """Sets the inverter's clock to the house's."""

    _attr_translation_key = "set_clock"
    _attr_entity_category = EntityCategory.CONFIG

    def __init__(self, coordinator: ChargehandCoordinator) -> None:
        """Need the clock."""
        super().__init__(coordinator, "set_clock", {CLOCK}, shows={CLOCK})

    async def async_press(self) -> None:
        """Set the clock and read it back."""
        async with self.asked() as by:
            await set_clock(self.coordinator, by)
