"""Numbers: the map's numbers that can be set, and the limits of windows."""

from collections.abc import Iterator

from homeassistant.components.number import NumberDeviceClass, NumberEntity, NumberMode
from homeassistant.const import EntityCategory, Platform
from homeassistant.core import HomeAssistant
from homeassistant.helpers.entity_platform import AddConfigEntryEntitiesCallback

from .coordinator import ChargehandConfigEntry, ChargehandCoordinator
from .core.registers import Control, ControlKind, Limit
from .core.schedule import Side, limit_of, points_of
from .entities import window_entities
from .entity import ChargehandEntity, MapEntity, WindowEntity, offer

PARALLEL_UPDATES = 1

DEVICE_CLASSES = {"A": NumberDeviceClass.CURRENT, "W": NumberDeviceClass.POWER, "V": NumberDeviceClass.VOLTAGE}


async def async_setup_entry(
    hass: HomeAssistant, entry: ChargehandConfigEntry, async_add_entities: AddConfigEntryEntitiesCallback
) -> None:
    """Add the numbers, where control is allowed."""
    offer(entry.runtime_data, Platform.NUMBER, async_add_entities, _numbers(entry.runtime_data))


def _numbers(coordinator: ChargehandCoordinator) -> Iterator[ChargehandEntity]:
    if not coordinator.allow_control:
        return
    for control in coordinator.inverter.map.controls.values():
        if control.kind is ControlKind.NUMBER:
            yield ControlNumber(coordinator, control)
    yield from window_entities(coordinator, ("current", "power", "stop_level"), WindowNumber)


class ControlNumber(MapEntity, NumberEntity):
    """A number of the map that can be set."""

    _attr_entity_category = EntityCategory.CONFIG
    _attr_mode = NumberMode.BOX

    def __init__(self, coordinator: ChargehandCoordinator, control: Control) -> None:
        """Take range and step from the map."""
        super().__init__(coordinator, control)
        self._attr_native_min_value = control.minimum
        self._attr_native_max_value = control.maximum
        self._attr_native_step = control.least_step
        self._attr_native_unit_of_measurement = control.unit
        self._attr_device_class = DEVICE_CLASSES.get(control.unit or "")

    @property
    def native_value(self) -> float | None:
        """The number."""
        value = self.shown
        return float(value) if isinstance(value, int | float) else None

    async def async_set_native_value(self, value: float) -> None:
        """Set it and read it back."""
        await self.set_to(value)


class WindowNumber(WindowEntity, NumberEntity):
    """A window's current, power or stop level."""

    _attr_entity_category = EntityCategory.CONFIG
    _attr_mode = NumberMode.BOX

    def __init__(self, coordinator: ChargehandCoordinator, side: Side, number: int, setting: str) -> None:
        """Take range and step from the map."""
        super().__init__(coordinator, side, number, setting)
        limit = self._limit
        self._attr_native_unit_of_measurement = limit.unit
        self._attr_device_class = DEVICE_CLASSES.get(limit.unit)

    @property
    def _limit(self) -> Limit:
        """The limit as the map has it, with the bounds that were read last."""
        points = self.coordinator.inverter.points
        limit = None if points is None else limit_of(points_of(points, self.side)[self.number - 1], self.setting)
        if limit is None:
            raise ValueError(f"the map has no {self.setting} for {self.side} window {self.number}")
        return limit

    @property
    def native_min_value(self) -> float:
        """The lowest value that can be set."""
        return self._limit.minimum

    @property
    def native_max_value(self) -> float:
        """The highest value that can be set."""
        return self._limit.maximum

    @property
    def native_step(self) -> float:
        """The least difference that the inverter can hold."""
        return self._limit.step

    @property
    def native_value(self) -> float | None:
        """The limit; None while the window is unused and nobody edits it."""
        value: float | None = None if self.window is None or self.empty else getattr(self.window, self.setting)
        return value

    async def async_set_native_value(self, value: float) -> None:
        """Put this limit into the draft."""
        await self.edit(**{self.setting: value})
