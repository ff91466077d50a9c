"""Selects: the map's modes that can be set."""

from collections.abc import Iterator

from homeassistant.components.select import SelectEntity
from homeassistant.const import EntityCategory, Platform
from homeassistant.core import HomeAssistant
from homeassistant.helpers.entity_platform import AddConfigEntryEntitiesCallback

from .coordinator import ChargehandConfigEntry, ChargehandCoordinator
from .core.registers import Control, ControlKind
from .entity import ChargehandEntity, MapEntity, offer

PARALLEL_UPDATES = 1


async def async_setup_entry(
    hass: HomeAssistant, entry: ChargehandConfigEntry, async_add_entities: AddConfigEntryEntitiesCallback
) -> None:
    """Add the selects, where control is allowed."""
    offer(entry.runtime_data, Platform.SELECT, async_add_entities, _selects(entry.runtime_data))


def _selects(coordinator: ChargehandCoordinator) -> Iterator[ChargehandEntity]:
    if not coordinator.allow_control:
        return
    for control in coordinator.inverter.map.controls.values():
        if control.kind is ControlKind.SELECT:
            yield ControlSelect(coordinator, control)


class ControlSelect(MapEntity, SelectEntity):
    """A mode of the inverter."""

    _attr_entity_category = EntityCategory.CONFIG

    def __init__(self, coordinator: ChargehandCoordinator, control: Control) -> None:
        """Offer the map's labels."""
        super().__init__(coordinator, control)
        self._attr_options = list(control.labels.values())

    @property
    def current_option(self) -> str | None:
        """The label of the mode; None when the inverter is in one that the map does not name."""
        value = self.shown
        return value if isinstance(value, str) else None

    async def async_select_option(self, option: str) -> None:
        """Set it and read it back."""
        await self.set_to(option)
