"""Switches: the map's flags that can be set, and windows that can be switched on and off."""

from collections.abc import Iterator
from typing import Any

from homeassistant.components.switch import SwitchEntity
from homeassistant.const import EntityCategory, Platform
from homeassistant.core import HomeAssistant
from homeassistant.helpers.entity_platform import AddConfigEntryEntitiesCallback

from .coordinator import ChargehandConfigEntry, ChargehandCoordinator
from .core.registers import ControlKind
from .core.schedule import WEEKDAYS
from .entities import window_entities
from .entity import ChargehandEntity, MapEntity, WindowEntity, offer

PARALLEL_UPDATES = 1


async def async_setup_entry(
    hass: HomeAssistant, entry: ChargehandConfigEntry, async_add_entities: AddConfigEntryEntitiesCallback
) -> None:
    """Add the switches, where control is allowed."""
    offer(entry.runtime_data, Platform.SWITCH, async_add_entities, _switches(entry.runtime_data))


def _switches(coordinator: ChargehandCoordinator) -> Iterator[ChargehandEntity]:
    if not coordinator.allow_control:
        return
    for control in coordinator.inverter.map.controls.values():
        if control.kind is ControlKind.SWITCH:
            yield ControlSwitch(coordinator, control)
    yield from window_entities(coordinator, ("active",), WindowSwitch)


class ControlSwitch(MapEntity, SwitchEntity):
    """A flag of the map that can be set."""

    _attr_entity_category = EntityCategory.CONFIG

    @property
    def is_on(self) -> bool | None:
        """Whether it is set."""
        value = self.shown
        return None if value is None else bool(value)

    async def async_turn_on(self, **kwargs: Any) -> None:
        """Set it."""
        await self.set_to(True)

    async def async_turn_off(self, **kwargs: Any) -> None:
        """Clear it."""
        await self.set_to(False)


class WindowSwitch(WindowEntity, SwitchEntity):
    """Whether a window is on the schedule."""

    _attr_entity_category = EntityCategory.CONFIG

    @property
    def is_on(self) -> bool | None:
        """Whether the window is used; None where its registers hold no window."""
        return None if self.window is None or not self.window.readable else self.window.used

    @property
    def extra_state_attributes(self) -> dict[str, Any] | None:
        """What somebody else has made of its place: days on which it acts alone, what else it is used for, or nothing readable."""
        window = self.window
        if window is not None and not window.readable:
            return {"readable": False}
        if window is None or (window.days is None and window.other_use is None):
            return None
        days = None if window.days is None else [WEEKDAYS[day] for day in window.days]
        return {"days": days, "used_for": window.other_use}

    async def async_turn_on(self, **kwargs: Any) -> None:
        """Put it on the schedule in the draft; one that has no times gets some."""
        await self.edit(active=True)

    async def async_turn_off(self, **kwargs: Any) -> None:
        """Take it off the schedule in the draft."""
        await self.edit(active=False)
